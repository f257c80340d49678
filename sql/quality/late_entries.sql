-- purpose: rows that are not stored yet, by how many quarters their treatment is behind the stored
-- grain: one row per export and number of quarters; 0 is the latest stored quarter or a later one
-- inputs: loading_treatments, loading_canals, loading_readings, loading_fills, current_treatments
-- parameters: none
with latest as (
    select max(known_treatments.quarter) as quarter
    from known_treatments
    inner join current_treatments
        on known_treatments.treatment_id = current_treatments.treatment_id
),

unknown_rows as (
    select
        'treatments' as export,
        loading_treatments.treatment_id
    from loading_treatments
    anti join current_treatments
        on loading_treatments.treatment_id = current_treatments.treatment_id
    union all
    select
        'canals' as export,
        loading_canals.treatment_id
    from loading_canals
    anti join current_canals
        on
            loading_canals.treatment_id = current_canals.treatment_id
            and loading_canals.canal = current_canals.canal
    union all
    select
        'readings' as export,
        loading_readings.treatment_id
    from loading_readings
    anti join current_readings
        on
            loading_readings.treatment_id = current_readings.treatment_id
            and loading_readings.canal = current_readings.canal
            and loading_readings.method = current_readings.method
    union all
    select
        'fills' as export,
        loading_fills.treatment_id
    from loading_fills
    anti join current_fills
        on
            loading_fills.treatment_id = current_fills.treatment_id
            and loading_fills.canal = current_fills.canal
)

select
    unknown_rows.export,
    greatest(latest.quarter - known_treatments.quarter, 0) as quarters_late,
    count(*) as number_of_rows
from unknown_rows
inner join known_treatments
    on unknown_rows.treatment_id = known_treatments.treatment_id
cross join latest
where latest.quarter is not null
group by all
order by all
