-- purpose: the incidents that count now, booleans named as such
-- grain: one row per current row of incidents
-- inputs: record.incidents
-- parameters: none
select
    treatment_id,
    canal,
    cast(kind as text) as kind,
    days_from_treatment
from record.incidents
where superseded_by is null
