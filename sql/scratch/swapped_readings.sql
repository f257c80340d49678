-- purpose: two canals of a tooth where one method reads what the other methods say of the other
-- grain: one row per treatment, canal and method
-- inputs: other_method_lengths, check_limits
-- parameters: none
-- Where the canals' lengths lie closer than twice the review threshold, chance looks like this.
select
    own.treatment_id,
    own.canal,
    own.method
from other_method_lengths as own
inner join other_method_lengths as swapped
    on
        own.treatment_id = swapped.treatment_id
        and own.method = swapped.method
        and own.canal <> swapped.canal
cross join check_limits
where
    abs(own.others_mm - swapped.others_mm) >= 2 * check_limits.review_mm
    and abs(own.length_mm - swapped.others_mm) <= check_limits.tolerance_mm
    and abs(swapped.length_mm - own.others_mm) <= check_limits.tolerance_mm
group by own.treatment_id, own.canal, own.method
