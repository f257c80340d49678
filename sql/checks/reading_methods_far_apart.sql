-- purpose: the reading of a canal that lies furthest from the others, beyond the review threshold
-- grain: one row per row at fault; of two readings alone both, since neither is known to be right
-- inputs: loading_readings, other_method_lengths, method_lengths, swapped_readings, check_limits
-- parameters: none
-- export: readings
-- code: reading.methods_far_apart
-- severity: warning
-- column: length_mm
-- remedy: compare with the record: likely a slip of the pen, another canal, reference point or stage
with unswapped as (
    select
        method_lengths.*,
        other_method_lengths.others_mm
    from method_lengths
    left join other_method_lengths
        on
            method_lengths.treatment_id = other_method_lengths.treatment_id
            and method_lengths.canal = other_method_lengths.canal
            and method_lengths.method = other_method_lengths.method
    left join swapped_readings
        on
            method_lengths.treatment_id = swapped_readings.treatment_id
            and method_lengths.canal = swapped_readings.canal
    where swapped_readings.canal is null
),

-- A reading is held against the other methods, and without any against its own repeats.
expected as (
    select
        loading_readings.*,
        coalesce(
            unswapped.others_mm,
            (unswapped.sum_mm - loading_readings.length_mm) / nullif(unswapped.readings - 1, 0)
        ) as expected_mm
    from loading_readings
    inner join unswapped
        on
            loading_readings.treatment_id = unswapped.treatment_id
            and loading_readings.canal = unswapped.canal
            and loading_readings.method = unswapped.method
),

judged as (
    select
        file_number,
        row_number,
        round(abs(length_mm - expected_mm), 3) as apart_mm,
        max(round(abs(length_mm - expected_mm), 3)) over (
            partition by treatment_id, canal
        ) as furthest_mm
    from expected
)

select
    judged.file_number,
    judged.row_number
from judged
cross join check_limits
where
    judged.apart_mm > check_limits.review_mm
    and judged.apart_mm = judged.furthest_mm
