-- purpose: readings of a canal by one method, repeated readings averaged
-- grain: one row per treatment, canal and method
-- inputs: staging.stg_readings
-- parameters: none
select
    treatment_id,
    canal,
    method,
    avg(length_mm) as length_mm,
    count(*) as readings
from staging.stg_readings
group by treatment_id, canal, method
