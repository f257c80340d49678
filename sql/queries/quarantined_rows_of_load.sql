-- purpose: rows that a load set aside, with their codes, in file order
-- grain: one row per quarantined row
-- inputs: record.quarantine, record.findings, record.load_files
-- parameters: load_id
with codes as (
    select
        load_id,
        file_number,
        row_number,
        string_agg(distinct code, ' ' order by code) as codes
    from record.findings
    where severity = 'error'
    group by load_id, file_number, row_number
)

select
    quarantine.file_number,
    quarantine.export,
    load_files.file_name,
    quarantine.row_number,
    codes.codes,
    quarantine.row_values,
    load_files.decimal_mark,
    load_files.date_order
from record.quarantine
inner join codes
    using (load_id, file_number, row_number)
inner join record.load_files
    using (load_id, file_number)
where quarantine.load_id = $load_id
order by quarantine.file_number, quarantine.row_number;
