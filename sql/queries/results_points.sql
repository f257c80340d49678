-- purpose: the points of one run, in order
-- grain: one row per row of results.points
-- inputs: results.points
-- parameters: run_id
select *
from results.points
where run_id = $run_id
order by position
