-- purpose: every load with what it read, kept, changed and set aside, also those taken back
-- grain: one row per load
-- inputs: record.loads, record.load_files, record.undone_loads
-- parameters: none
with kept as (
    select
        loads.load_id,
        loads.loaded_at,
        count(load_files.file_number) as files,
        coalesce(sum(load_files.rows_read), 0) as rows_read,
        coalesce(sum(load_files.rows_accepted), 0) as rows_accepted,
        coalesce(sum(load_files.rows_quarantined), 0) as rows_quarantined,
        coalesce(sum(load_files.rows_unchanged), 0) as rows_unchanged,
        coalesce(sum(load_files.rows_superseding), 0) as rows_superseding,
        coalesce(sum(load_files.rows_absent), 0) as rows_absent,
        string_agg(distinct nullif(load_files.date_regime, ''), '; ') as date_regimes,
        cast(null as timestamp) as undone_at,
        '' as undone_by,
        0 as rows_removed,
        0 as rows_restored
    from record.loads
    left join record.load_files
        using (load_id)
    group by loads.load_id, loads.loaded_at
),

taken_back as (
    select
        load_id,
        loaded_at,
        len(string_split(file_names, ', ')) as files,
        rows_read,
        rows_accepted,
        rows_quarantined,
        0 as rows_unchanged,
        0 as rows_superseding,
        0 as rows_absent,
        cast(null as text) as date_regimes,
        undone_at,
        undone_by,
        rows_removed,
        rows_restored
    from record.undone_loads
)

select *
from kept
union all
select *
from taken_back
order by load_id;
