-- purpose: what each method says of each canal, the median of its readings
-- grain: one row per treatment, canal and method
-- inputs: known_readings
-- parameters: none
select
    treatment_id,
    canal,
    method,
    median(length_mm) as length_mm,
    sum(length_mm) as sum_mm,
    count(*) as readings
from known_readings
group by treatment_id, canal, method
