-- purpose: the reading of a canal that lies furthest from the others, beyond the review threshold
-- grain: one row per row at fault; of two readings alone both, since neither is known to be right
-- inputs: canals_apart, swapped_readings, check_limits
-- parameters: none
-- export: readings
-- code: reading.methods_far_apart
-- severity: warning
-- column: length_mm
-- remedy: compare with the record: likely a slip of the pen, another canal, reference point or stage
with apart as (
    select
        canals_apart.shortest_place,
        canals_apart.longest_place,
        canals_apart.shortest_apart_mm,
        canals_apart.longest_apart_mm
    from canals_apart
    left join swapped_readings
        on
            canals_apart.treatment_id = swapped_readings.treatment_id
            and canals_apart.canal = swapped_readings.canal
    cross join check_limits
    where
        swapped_readings.canal is null
        and greatest(canals_apart.shortest_apart_mm, canals_apart.longest_apart_mm)
        > check_limits.review_mm
),

-- Where the furthest is stored already, the other end is what this load brings.
places as (
    select shortest_place as place
    from apart
    where shortest_apart_mm >= longest_apart_mm or longest_place = 0
    union all
    select longest_place as place
    from apart
    where longest_apart_mm >= shortest_apart_mm or shortest_place = 0
)

select
    cast(place // 1000000000000 as integer) as file_number,
    place % 1000000000000 as row_number
from places
where place > 0
