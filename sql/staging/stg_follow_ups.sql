-- purpose: the follow_ups that count now, booleans named as such
-- grain: one row per current row of follow_ups
-- inputs: record.follow_ups
-- parameters: none
select
    treatment_id,
    canal,
    days_from_treatment,
    cast(imaging as text) as imaging,
    pai,
    cbct_pai,
    pain as has_pain,
    swelling as has_swelling,
    sinus_tract as has_sinus_tract,
    tenderness as is_tender,
    mobility,
    function as is_in_function,
    tooth_present as is_tooth_present,
    cast(loss_reason as text) as loss_reason,
    cast(restoration_status as text) as restoration_status,
    reader_id,
    read
from record.follow_ups
where superseded_by is null
