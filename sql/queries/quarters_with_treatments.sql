-- purpose: the quarters that hold treatments
-- grain: one row per quarter
-- inputs: intermediate.int_treatments_classified
-- parameters: none
select distinct quarter
from intermediate.int_treatments_classified
order by quarter
