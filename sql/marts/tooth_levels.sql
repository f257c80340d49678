-- purpose: filling level of a tooth: its worst canal, beyond before short before not assessable
-- grain: one row per treatment with a filling on record
-- inputs: marts.fills
-- parameters: none
select
    treatment_id,
    count(*) as canals,
    case
        when bool_or(level = 'beyond') then 'beyond'
        when bool_or(level = 'short') then 'short'
        when bool_or(level = 'not_assessable') then 'not_assessable'
        when bool_or(level = 'flush') then 'flush'
        else 'within'
    end as level,
    -- Where a canal has its level in words only, how far its filling ends in mm is not known.
    if(
        bool_or(level <> 'not_assessable' and fill_offset_mm is null), null, max(fill_offset_mm)
    ) as highest_offset_mm,
    if(
        bool_or(level <> 'not_assessable' and fill_offset_mm is null), null, min(fill_offset_mm)
    ) as lowest_offset_mm
from marts.fills
group by treatment_id
order by treatment_id
