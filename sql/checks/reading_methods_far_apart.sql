-- purpose: the reading of a canal that lies furthest from the others, beyond the review threshold
-- grain: one row per row at fault; of two readings alone both, since neither is known to be right
-- inputs: canals_apart, readings_apart, swapped_readings, check_limits
-- parameters: none
-- export: readings
-- code: reading.methods_far_apart
-- severity: warning
-- column: length_mm
-- remedy: compare with the record: likely a slip of the pen, another canal, reference point or stage
with apart as (
    select canals_apart.*
    from canals_apart
    cross join check_limits
    where
        greatest(canals_apart.shortest_apart_mm, canals_apart.longest_apart_mm)
        > check_limits.review_mm
        and not exists (
            select 1
            from swapped_readings
            where
                swapped_readings.treatment_id = canals_apart.treatment_id
                and swapped_readings.canal = canals_apart.canal
        )
),

-- Of equal readings the first is named; lengths are compared in micrometres.
ends as (
    select
        apart.shortest_apart_mm,
        apart.longest_apart_mm,
        min(readings_apart.place) filter (
            where round(readings_apart.length_mm * 1000) = round(apart.shortest_mm * 1000)
        ) as shortest_place,
        min(readings_apart.place) filter (
            where round(readings_apart.length_mm * 1000) = round(apart.longest_mm * 1000)
        ) as longest_place
    from readings_apart
    inner join apart
        on
            readings_apart.treatment_id = apart.treatment_id
            and readings_apart.canal = apart.canal
    group by
        apart.treatment_id, apart.canal, apart.shortest_apart_mm, apart.longest_apart_mm
),

-- Where the furthest is stored already, the other end is what this load brings.
places as (
    select shortest_place as place
    from ends
    where shortest_apart_mm >= longest_apart_mm or longest_place = 0
    union all
    select longest_place as place
    from ends
    where longest_apart_mm >= shortest_apart_mm or shortest_place = 0
)

select
    cast(place // 1000000000000 as integer) as file_number,
    place % 1000000000000 as row_number
from places
where place > 0
