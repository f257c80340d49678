-- purpose: the treatments that count now, booleans named as such
-- grain: one row per current row of treatments
-- inputs: record.treatments
-- parameters: none
select
    treatment_id,
    patient_id,
    clinician_id,
    site_id,
    cast(tooth as text) as tooth,
    period,
    cast(treatment_type as text) as treatment_type,
    cast(pulpal_diagnosis as text) as pulpal_diagnosis,
    cast(apical_diagnosis as text) as apical_diagnosis,
    preop_pai,
    preop_lesion_mm,
    metal_restoration as has_metal_restoration,
    isolation as is_isolated,
    cast(age_band as text) as age_band,
    cast(difficulty as text) as difficulty,
    cast(restoration as text) as restoration,
    restoration_adequate as is_restoration_adequate,
    cast(complication as text) as complication
from record.treatments
where superseded_by is null
