-- purpose: the tooth is lost and no reason is given
-- grain: one row per row at fault
-- inputs: loading_follow_ups
-- parameters: none
-- export: follow_ups
-- code: follow_up.loss_without_reason
-- severity: warning
-- column: loss_reason
-- remedy: give the reason for the loss: endodontic or other
select
    file_number,
    row_number
from loading_follow_ups
where
    not tooth_present
    and loss_reason is null
