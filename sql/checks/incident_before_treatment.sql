-- purpose: days counted from treatment cannot be negative
-- grain: one row per row at fault
-- inputs: loading_incidents
-- parameters: none
-- export: incidents
-- code: incident.before_treatment
-- severity: error
-- column: days_from_treatment
-- remedy: the day lies before the treatment; correct it
select
    file_number,
    row_number
from loading_incidents
where days_from_treatment < 0
