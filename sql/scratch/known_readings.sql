-- purpose: the readings that will count after this load, of the treatments that it touches
-- grain: one row per treatment, canal, method, stage, replicate and observer
-- inputs: loading_readings, earlier_readings
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
    treatment_id,
    canal,
    method,
    length_mm,
    0 as place
from earlier_readings
