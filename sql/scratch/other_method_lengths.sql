-- purpose: what each method says of each canal beside what the other methods say of it together
-- grain: one row per treatment, canal and method, where the canal was read by another method
-- inputs: method_lengths
-- parameters: none
select
    own.treatment_id,
    own.canal,
    own.method,
    own.length_mm,
    median(other.length_mm) as others_mm
from method_lengths as own
inner join method_lengths as other
    on
        own.treatment_id = other.treatment_id
        and own.canal = other.canal
        and own.method <> other.method
group by own.treatment_id, own.canal, own.method, own.length_mm
