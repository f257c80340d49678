-- purpose: the estimates of one run, in order
-- grain: one row per row of results.estimates
-- inputs: results.estimates
-- parameters: run_id
select *
from results.estimates
where run_id = $run_id
order by position
