-- purpose: reports of altered sensation: of treatments filled in a quarter, or first reported then
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
    'first reported on day '
    || coalesce(cast(incidents.days_from_treatment as text), 'not recorded') as detail
from staging.stg_incidents as incidents
inner join intermediate.int_treatments_classified as treatments
    on incidents.treatment_id = treatments.treatment_id
where
    incidents.kind = 'altered_sensation'
    and $quarter in (
        treatments.quarter,
        year(treatments.treated_from + to_days(incidents.days_from_treatment))
        || '-Q' || quarter(treatments.treated_from + to_days(incidents.days_from_treatment)),
        year(treatments.treated_to + to_days(incidents.days_from_treatment))
        || '-Q' || quarter(treatments.treated_to + to_days(incidents.days_from_treatment))
    )
order by incidents.treatment_id
