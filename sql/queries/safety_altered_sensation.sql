-- purpose: reports of altered sensation after treatments filled in a quarter
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
    and treatments.quarter = $quarter
order by incidents.treatment_id
