-- purpose: a canal code that this tooth does not usually have
-- grain: one row per row at fault
-- inputs: loading_canals, known_teeth
-- parameters: none
-- export: canals
-- code: canal.not_usual_for_tooth
-- severity: warning
-- column: canal
-- remedy: check the tooth and the canal code
select
    loading_canals.file_number,
    loading_canals.row_number
from loading_canals
inner join known_teeth
    on loading_canals.treatment_id = known_teeth.treatment_id
left join reference.usual_canals
    on
        known_teeth.tooth = usual_canals.tooth
        and loading_canals.canal = usual_canals.canal
where
    usual_canals.canal is null
    and substr(known_teeth.tooth, 2, 1) <> '8'
