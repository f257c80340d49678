-- purpose: the latest period with a treatment on record
-- grain: one row
-- inputs: record.treatments
-- parameters: none
select
    max(
        substr(period, 1, 4) || '-Q'
        || if(
            substr(period, 6, 1) = 'Q',
            substr(period, 7, 1),
            cast(cast(ceil(cast(substr(period, 6, 2) as integer) / 3.0) as integer) as text)
        )
    ) as quarter
from record.treatments
where superseded_by is null
