-- purpose: a reason for loss is given for a tooth that is present
-- grain: one row per row at fault
-- inputs: loading_follow_ups
-- parameters: none
-- export: follow_ups
-- code: follow_up.loss_reason_but_present
-- severity: warning
-- column: loss_reason
-- remedy: check whether the tooth is present
select
    file_number,
    row_number
from loading_follow_ups
where
    tooth_present
    and loss_reason is not null
