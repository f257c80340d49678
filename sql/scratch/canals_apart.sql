-- purpose: canals in which two readings differ by more than the review threshold, with their ends
-- grain: one row per treatment and canal
-- inputs: known_readings, check_limits
-- parameters: none
-- Each end beside the mean of the canal's other readings: the furthest of all is one of the two.
-- Of equal readings the first is named: length in micrometres and place make one number.
with ends as (
    select
        treatment_id,
        canal,
        min(length_mm) as shortest_mm,
        max(length_mm) as longest_mm,
        sum(length_mm) as sum_mm,
        count(*) as readings,
        min(cast(round(length_mm * 1000) as hugeint) * 10000000000000000 + place) as first_key,
        max(cast(round(length_mm * 1000) as hugeint) * 10000000000000000 - place) as last_key
    from known_readings
    group by treatment_id, canal
    having round(max(length_mm) - min(length_mm), 3) > (select review_mm from check_limits)
)

select
    treatment_id,
    canal,
    cast(first_key % 10000000000000000 as bigint) as shortest_place,
    cast(
        cast(round(longest_mm * 1000) as hugeint) * 10000000000000000 - last_key as bigint
    ) as longest_place,
    round(longest_mm - shortest_mm, 3) as spread_mm,
    round((sum_mm - shortest_mm) / (readings - 1) - shortest_mm, 3) as shortest_apart_mm,
    round(longest_mm - (sum_mm - longest_mm) / (readings - 1), 3) as longest_apart_mm
from ends
