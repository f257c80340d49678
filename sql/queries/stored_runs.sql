-- purpose: the stored runs, newest first
-- grain: one row per run
-- inputs: results.runs
-- parameters: none
select *
from results.runs
order by created_at desc, run_id asc
