-- purpose: a length outside the handbook range of the tooth (soft limits, not verified row by row)
-- grain: one row per row at fault
-- inputs: loading_readings, known_teeth, tooth_lengths
-- parameters: none
-- export: readings
-- code: reading.length_unusual_for_tooth
-- severity: warning
-- column: length_mm
-- remedy: check the entry, the tooth and the reference point
-- Few lengths are unusual for any tooth at all; only these are held against their own.
with usual_for_all as (
    select
        max(shortest_mm) - 4 as shortest_mm,
        min(longest_mm) as longest_mm
    from reference.tooth_lengths
),

in_question as (
    select
        loading_readings.file_number,
        loading_readings.row_number,
        loading_readings.treatment_id,
        loading_readings.length_mm
    from loading_readings
    cross join usual_for_all
    where
        loading_readings.length_mm < usual_for_all.shortest_mm
        or loading_readings.length_mm > usual_for_all.longest_mm
)

select
    in_question.file_number,
    in_question.row_number
from in_question
inner join known_teeth
    on in_question.treatment_id = known_teeth.treatment_id
inner join reference.tooth_lengths
    on known_teeth.tooth = tooth_lengths.tooth
where
    in_question.length_mm < tooth_lengths.shortest_mm - 4
    or in_question.length_mm > tooth_lengths.longest_mm
