-- purpose: the loads of a database with what each read, kept and set aside
-- grain: one row per load
-- inputs: record.loads, record.load_files
-- parameters: none
select
    loads.load_id,
    loads.loaded_at,
    loads.program_version,
    count(load_files.file_number) as files,
    coalesce(sum(load_files.rows_read), 0) as rows_read,
    coalesce(sum(load_files.rows_accepted), 0) as rows_accepted,
    coalesce(sum(load_files.rows_quarantined), 0) as rows_quarantined,
    coalesce(sum(load_files.rows_unchanged), 0) as rows_unchanged,
    coalesce(sum(load_files.rows_superseding), 0) as rows_superseding
from record.loads
left join record.load_files
    using (load_id)
group by loads.load_id, loads.loaded_at, loads.program_version
order by loads.load_id;
