-- purpose: the settings of the latest run of every quarter before one, for actions carried on
-- grain: one row per earlier quarter that was analysed
-- inputs: results.runs
-- parameters: quarter
select
    period,
    settings
from results.runs
where period < $quarter
qualify row_number() over (partition by period order by created_at desc) = 1
order by period
