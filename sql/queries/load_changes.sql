-- purpose: what each file of a load changed, field by field
-- grain: one row per changed field of a file, or one with no field where none changed
-- inputs: record.load_files, record.load_changes
-- parameters: none
select
    load_files.load_id,
    load_files.file_number,
    load_files.file_name,
    load_files.rows_accepted
    - load_files.rows_unchanged
    - load_files.rows_superseding as rows_added,
    load_files.rows_unchanged,
    load_files.rows_superseding,
    load_files.rows_absent,
    load_changes.column_name,
    load_changes.rows_changed
from record.load_files
left join record.load_changes
    using (load_id, file_number)
order by load_files.load_id, load_files.file_number, load_changes.column_name;
