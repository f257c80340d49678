-- purpose: a length outside the handbook range of the tooth (soft limits, not verified row by row)
-- grain: one row per row at fault
-- inputs: loading_canals, known_teeth
-- parameters: none
-- export: canals
-- code: canal.confirmed_length_unusual_for_tooth
-- severity: warning
-- column: confirmed_length_mm
-- remedy: check the entry, the tooth and the reference point
select
    loading_canals.file_number,
    loading_canals.row_number
from loading_canals
inner join known_teeth
    on loading_canals.treatment_id = known_teeth.treatment_id
inner join reference.tooth_lengths
    on known_teeth.tooth = tooth_lengths.tooth
where
    loading_canals.confirmed_length_mm < tooth_lengths.shortest_mm - 4
    or loading_canals.confirmed_length_mm > tooth_lengths.longest_mm
