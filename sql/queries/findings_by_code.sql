-- purpose: what the checks found in all loads, by code
-- grain: one row per code and export
-- inputs: record.findings
-- parameters: none
select
    code,
    export,
    severity,
    count(*) as count,
    count(distinct load_id || '-' || file_number || '-' || row_number) as rows
from record.findings
group by code, export, severity
order by severity asc, count(*) desc, code asc, export asc
