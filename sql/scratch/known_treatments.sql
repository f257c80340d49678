-- purpose: the treatments that will count after this load, with who did them and when
-- grain: one row per treatment; quarter counts quarters of years, so that later is larger
-- inputs: loading_treatments, current_treatments
-- parameters: none
with every as (
    select
        treatment_id,
        clinician_id,
        period
    from loading_treatments
    union all
    select
        stored.treatment_id,
        stored.clinician_id,
        stored.period
    from current_treatments as stored
    where
        not exists (
            select 1
            from loading_treatments as own
            where own.treatment_id = stored.treatment_id
        )
)

select
    treatment_id,
    clinician_id,
    4 * cast(substr(period, 1, 4) as integer)
    + if(
        contains(period, 'Q'),
        cast(right(period, 1) as integer),
        cast(ceil(try_cast(right(period, 2) as integer) / 3) as integer)
    ) as quarter
from every
