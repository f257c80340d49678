-- purpose: the lists of one run, in order
-- grain: one row per row of results.lists
-- inputs: results.lists
-- parameters: run_id
select *
from results.lists
where run_id = $run_id
order by position
