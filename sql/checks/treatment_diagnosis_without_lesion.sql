-- purpose: asymptomatic apical periodontitis is diagnosed where the index shows no lesion
-- grain: one row per row at fault
-- inputs: loading_treatments
-- parameters: none
-- export: treatments
-- code: treatment.diagnosis_without_lesion
-- severity: warning
-- column: apical_diagnosis
-- remedy: check the diagnosis and the pre-operative index
select
    file_number,
    row_number
from loading_treatments
where
    apical_diagnosis = 'asymptomatic_apical_periodontitis'
    and preop_pai <= 2
