-- purpose: what was recorded while a canal was measured, for the criteria
-- grain: one row per treatment and canal
-- inputs: staging.stg_canals, staging.stg_readings, intermediate.int_treatments_classified
-- parameters: tolerance_mm
with per_canal as (
    select
        treatment_id,
        canal,
        count(distinct method) as methods,
        bool_or(method = 'electronic') as has_electronic,
        count(*) filter (where method = 'electronic') as electronic_readings,
        bool_or(
            method = 'electronic' and stage in ('after_preparation', 'before_filling')
        ) as is_reconfirmed,
        bool_and(canal_state = 'dry') filter (where method = 'electronic' and canal_state is not null)
            as is_read_dry,
        max(file_size_iso) filter (where method = 'electronic') as largest_file_iso
    from staging.stg_readings
    group by treatment_id, canal
),

repeats as (
    select
        treatment_id,
        canal,
        max(spread_mm) as spread_mm
    from (
        select
            treatment_id,
            canal,
            stage,
            max(length_mm) - min(length_mm) as spread_mm
        from staging.stg_readings
        where method = 'electronic'
        group by treatment_id, canal, stage
        having count(*) > 1
    ) as by_stage
    group by treatment_id, canal
)

select
    canals.treatment_id,
    canals.canal,
    treatments.patient_id,
    treatments.clinician_id,
    treatments.site_id,
    treatments.quarter,
    treatments.month,
    coalesce(per_canal.methods, 0) as methods,
    coalesce(per_canal.has_electronic, false) as has_electronic,
    coalesce(per_canal.is_reconfirmed, false) as is_reconfirmed,
    per_canal.is_read_dry,
    round(repeats.spread_mm, 2) <= $tolerance_mm as is_reproduced,
    canals.apical_size_iso is not null as is_apex_gauged,
    per_canal.largest_file_iso >= 0.8 * canals.apical_size_iso as is_file_matched
from staging.stg_canals as canals
inner join intermediate.int_treatments_classified as treatments
    on canals.treatment_id = treatments.treatment_id
left join per_canal
    on canals.treatment_id = per_canal.treatment_id and canals.canal = per_canal.canal
left join repeats
    on canals.treatment_id = repeats.treatment_id and canals.canal = repeats.canal
order by canals.treatment_id, canals.canal
