-- purpose: the readings that will count after this load: its own, and stored ones it leaves alone
-- grain: one row per treatment, canal, method, stage, replicate and observer
-- inputs: loading_readings, current_readings
-- parameters: none
select
    treatment_id,
    canal,
    method,
    length_mm
from loading_readings
union all
select
    stored.treatment_id,
    stored.canal,
    stored.method,
    stored.length_mm
from current_readings as stored
where
    not exists (
        select 1
        from loading_readings as own
        where
            own.treatment_id = stored.treatment_id
            and own.canal = stored.canal
            and own.method = stored.method
            and own.stage is not distinct from cast(stored.stage as varchar)
            and own.replicate is not distinct from stored.replicate
            and own.observer_id is not distinct from stored.observer_id
    )
