-- purpose: the readings that will count after this load, of the treatments that it touches
-- grain: one row per treatment, canal, method, stage, replicate and observer
-- inputs: loading_readings, loading_fills, current_readings
-- parameters: none
-- `place` is file and row in one number, 0 for stored rows: it goes through aggregates quickly.
select
    treatment_id,
    canal,
    method,
    length_mm,
    cast(file_number as bigint) * 1000000000000 + row_number as place
from loading_readings
union all
select
    stored.treatment_id,
    stored.canal,
    stored.method,
    stored.length_mm,
    0 as place
from current_readings as stored
where
    stored.treatment_id in (
        select treatment_id from loading_readings
        union all
        select treatment_id from loading_fills
    )
    and not exists (
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
