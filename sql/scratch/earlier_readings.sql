-- purpose: stored readings that go on to count after this load, of the treatments that it touches
-- grain: one row per treatment, canal, method, stage, replicate and observer
-- inputs: loading_readings, loading_fills, current_readings
-- parameters: none
-- Joins of this kind hash the shorter side, whichever it is: the load or what is stored.
select
    stored.treatment_id,
    stored.canal,
    stored.method,
    stored.length_mm
from current_readings as stored
semi join (
    select treatment_id from loading_readings
    union all
    select treatment_id from loading_fills
) as touched
    on stored.treatment_id = touched.treatment_id
anti join loading_readings as own
    on
        stored.treatment_id = own.treatment_id
        and stored.canal = own.canal
        and stored.method = own.method
        and cast(stored.stage as varchar) is not distinct from own.stage
        and stored.replicate is not distinct from own.replicate
        and stored.observer_id is not distinct from own.observer_id
