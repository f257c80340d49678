-- purpose: in how many of each clinician's canals each method was read, stored rows included
-- grain: one row per clinician and method
-- inputs: known_treatments, known_canals, loading_readings, current_readings
-- parameters: none
with canals as (
    select
        known_treatments.clinician_id,
        known_canals.treatment_id,
        known_canals.canal
    from known_canals
    inner join known_treatments
        on known_canals.treatment_id = known_treatments.treatment_id
),

totals as (
    select
        clinician_id,
        count(*) as canals
    from canals
    group by clinician_id
),

canal_methods as (
    select
        treatment_id,
        canal,
        method
    from loading_readings
    union distinct
    select
        treatment_id,
        canal,
        method
    from current_readings
),

covered as (
    select
        canals.clinician_id,
        canal_methods.method,
        count(*) as canals_read
    from canals
    inner join canal_methods
        on
            canals.treatment_id = canal_methods.treatment_id
            and canals.canal = canal_methods.canal
    group by canals.clinician_id, canal_methods.method
)

select
    totals.clinician_id,
    totals.canals,
    covered.method,
    covered.canals_read
from totals
left join covered
    on totals.clinician_id = covered.clinician_id
order by totals.clinician_id, covered.method
