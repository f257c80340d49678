-- purpose: whether an adverse event is on record for each treatment, in the order of time
-- grain: one row per treatment
-- inputs: staging.stg_incidents, intermediate.int_treatments_classified
-- parameters: none
select
    treatments.treatment_id,
    treatments.patient_id,
    treatments.clinician_id,
    treatments.site_id,
    treatments.quarter,
    treatments.month,
    treatments.treatment_id in (select incidents.treatment_id from staging.stg_incidents as incidents)
        as is_met
from intermediate.int_treatments_classified as treatments
order by treatments.first_month, treatments.treatment_id
