-- purpose: canals with readings so far apart that one of them, or all of one method, may be wrong
-- grain: one row per treatment and canal
-- inputs: known_readings, check_limits
-- parameters: none
-- Each end beside the mean of the canal's other readings: the furthest of all is one of the two.
with ends as (
    select
        treatment_id,
        canal,
        min(length_mm) as shortest_mm,
        max(length_mm) as longest_mm,
        sum(length_mm) as sum_mm,
        count(*) as readings
    from known_readings
    group by treatment_id, canal
    having round(max(length_mm) - min(length_mm), 3) > (select review_mm from check_limits)
),

beside_others as (
    select
        treatment_id,
        canal,
        shortest_mm,
        longest_mm,
        round(longest_mm - shortest_mm, 3) as spread_mm,
        round((sum_mm - shortest_mm) / (readings - 1) - shortest_mm, 3) as shortest_apart_mm,
        round(longest_mm - (sum_mm - longest_mm) / (readings - 1), 3) as longest_apart_mm
    from ends
)

select
    beside_others.treatment_id,
    beside_others.canal,
    beside_others.shortest_mm,
    beside_others.longest_mm,
    beside_others.shortest_apart_mm,
    beside_others.longest_apart_mm,
    -- Where the canals' lengths lie closer than twice the review threshold, chance looks like
    -- a swap; a method that is one canal's and reads the other's is nearly as far from the rest.
    beside_others.spread_mm
    >= 2 * check_limits.review_mm - check_limits.tolerance_mm as may_be_swapped
from beside_others
cross join check_limits
where
    may_be_swapped
    or greatest(beside_others.shortest_apart_mm, beside_others.longest_apart_mm)
    > check_limits.review_mm
