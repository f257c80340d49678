-- purpose: every reading of the canals whose readings lie apart, for the rules that look closer
-- grain: one row per treatment, canal, method, stage, replicate and observer
-- inputs: known_readings, canals_apart
-- parameters: none
select known_readings.*
from known_readings
semi join canals_apart
    on
        known_readings.treatment_id = canals_apart.treatment_id
        and known_readings.canal = canals_apart.canal
