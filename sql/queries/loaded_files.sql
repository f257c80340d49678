-- purpose: the files that the stored rows came from
-- grain: one row per file of a load
-- inputs: record.load_files
-- parameters: none
select
    load_id,
    export,
    file_name as name,
    sha256,
    rows_read,
    rows_accepted,
    rows_quarantined,
    separator,
    decimal_mark,
    encoding
from record.load_files
order by load_id, file_number
