-- purpose: days counted from treatment cannot be negative
-- grain: one row per row at fault
-- inputs: loading_follow_ups
-- parameters: none
-- export: follow_ups
-- code: follow_up.before_treatment
-- severity: error
-- column: days_from_treatment
-- remedy: the day lies before the treatment; correct it
select
    file_number,
    row_number
from loading_follow_ups
where days_from_treatment < 0
