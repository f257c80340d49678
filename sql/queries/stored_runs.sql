-- purpose: the stored runs, newest first; by number, since a clock can go back
-- grain: one row per run
-- inputs: results.runs
-- parameters: none
select * exclude (run_number)
from results.runs
order by run_number desc, created_at desc, run_id asc
