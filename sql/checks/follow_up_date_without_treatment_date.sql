-- purpose: a review date can only become days where the treatment date came with the same load
-- grain: one row per row at fault
-- inputs: loading_follow_ups
-- parameters: none
-- export: follow_ups
-- code: follow_up.date_without_treatment_date
-- severity: error
-- column: review_date
-- remedy: give days_from_treatment, or load treatment_date with it
select
    file_number,
    row_number
from loading_follow_ups
where days_from_treatment is null
