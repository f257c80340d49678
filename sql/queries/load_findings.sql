-- purpose: the findings of the load that is being judged
-- grain: one row per finding
-- inputs: load_findings
-- parameters: none
select
    file_number,
    row_number,
    export,
    column_name,
    code,
    severity
from load_findings
order by file_number, row_number, code;
