-- purpose: a length outside the handbook range of the tooth (soft limits, not verified row by row)
-- grain: one row per row at fault
-- inputs: loading_readings, known_teeth
-- parameters: none
-- export: readings
-- code: reading.length_unusual_for_tooth
-- severity: warning
-- column: length_mm
-- remedy: check the entry, the tooth and the reference point
select
    loading_readings.file_number,
    loading_readings.row_number
from loading_readings
inner join known_teeth
    on loading_readings.treatment_id = known_teeth.treatment_id
inner join reference.tooth_lengths
    on known_teeth.tooth = tooth_lengths.tooth
where
    loading_readings.length_mm < tooth_lengths.shortest_mm - 4
    or loading_readings.length_mm > tooth_lengths.longest_mm
