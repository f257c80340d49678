-- purpose: the first reading of each filling: lowest read, then first reader code
-- grain: one row per treatment and canal
-- inputs: staging.stg_fills, intermediate.int_treatments_classified
-- parameters: none
select
    fills.*,
    count(*) over (partition by fills.treatment_id, fills.canal) as readings
from staging.stg_fills as fills
inner join intermediate.int_treatments_classified as treatments
    on fills.treatment_id = treatments.treatment_id
qualify
    row_number() over (
        partition by fills.treatment_id, fills.canal
        order by fills.reader_id <> treatments.clinician_id, fills.read, fills.reader_id
    ) = 1
