-- purpose: each method's reading of a canal beside the confirmed length
-- grain: one row per treatment, canal and method
-- inputs: intermediate.int_readings_averaged, staging.stg_canals, intermediate.int_treatments_classified
-- parameters: none
select
    readings.treatment_id,
    readings.canal,
    readings.method,
    treatments.patient_id,
    treatments.clinician_id,
    treatments.site_id,
    treatments.tooth,
    treatments.tooth_type,
    treatments.quarter,
    treatments.month,
    readings.length_mm,
    readings.readings,
    canals.confirmed_length_mm,
    readings.length_mm - canals.confirmed_length_mm as difference_mm
from intermediate.int_readings_averaged as readings
inner join intermediate.int_treatments_classified as treatments
    on readings.treatment_id = treatments.treatment_id
left join staging.stg_canals as canals
    on readings.treatment_id = canals.treatment_id and readings.canal = canals.canal
order by readings.treatment_id, readings.canal, readings.method
