-- purpose: adverse events: of treatments filled in a quarter, or first reported then
-- grain: one row per event
-- inputs: staging.stg_incidents, intermediate.int_treatments_classified
-- parameters: quarter
select
    incidents.treatment_id,
    incidents.canal,
    treatments.tooth,
    treatments.clinician_id,
    treatments.period,
    cast(null as double) as value_mm,
    replace(incidents.kind, '_', ' ')
    || coalesce(', first reported on day ' || cast(incidents.days_from_treatment as text), '') as detail
from staging.stg_incidents as incidents
inner join intermediate.int_treatments_classified as treatments
    on incidents.treatment_id = treatments.treatment_id
-- The day of treatment is not kept, so an event may lie in either of two quarters: it is listed in both.
where
    $quarter in (
        treatments.quarter,
        year(treatments.treated_from + to_days(incidents.days_from_treatment))
        || '-Q' || quarter(treatments.treated_from + to_days(incidents.days_from_treatment)),
        year(treatments.treated_to + to_days(incidents.days_from_treatment))
        || '-Q' || quarter(treatments.treated_to + to_days(incidents.days_from_treatment))
    )
order by incidents.treatment_id, incidents.kind
