-- purpose: each reading beside the confirmed length, with the conditions recorded then
-- grain: one row per treatment, canal, method, stage and replicate
-- inputs: staging.stg_readings, staging.stg_canals, intermediate.int_treatments_classified
-- parameters: none
-- Hand file sizes are not evenly spaced, so the gap is counted along the ISO series: 3 means
-- that the measuring file was three sizes thinner than the gauged apex.
with iso_sizes (size_iso, step) as (
    values
    (6, 0), (8, 1), (10, 2), (15, 3), (20, 4), (25, 5), (30, 6), (35, 7), (40, 8), (45, 9),
    (50, 10), (55, 11), (60, 12), (70, 13), (80, 14), (90, 15), (100, 16), (110, 17), (120, 18),
    (130, 19), (140, 20)
)

select
    readings.treatment_id,
    readings.canal,
    readings.method,
    coalesce(readings.stage, 'not_recorded') as stage,
    coalesce(readings.replicate, 1) as replicate,
    treatments.patient_id,
    treatments.clinician_id,
    treatments.tooth,
    treatments.tooth_type,
    treatments.quarter,
    treatments.month,
    readings.length_mm,
    canals.confirmed_length_mm,
    readings.length_mm - canals.confirmed_length_mm as difference_mm,
    readings.canal_state,
    readings.has_metal_contact,
    readings.is_circuit_checked,
    readings.is_stable,
    readings.observer_id,
    gauged.step - used.step as steps_under_apex
from staging.stg_readings as readings
inner join intermediate.int_treatments_classified as treatments
    on readings.treatment_id = treatments.treatment_id
left join staging.stg_canals as canals
    on readings.treatment_id = canals.treatment_id and readings.canal = canals.canal
left join iso_sizes as used on readings.file_size_iso = used.size_iso
left join iso_sizes as gauged on canals.apical_size_iso = gauged.size_iso
order by readings.treatment_id, readings.canal, readings.method, stage, replicate
