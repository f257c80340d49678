-- purpose: the confirmed lengths that will count after this load
-- grain: one row per treatment and canal
-- inputs: loading_canals, current_canals
-- parameters: none
select
    treatment_id,
    canal,
    confirmed_length_mm
from loading_canals
union all
select
    stored.treatment_id,
    stored.canal,
    stored.confirmed_length_mm
from current_canals as stored
where
    not exists (
        select 1
        from loading_canals as own
        where
            own.treatment_id = stored.treatment_id
            and own.canal = stored.canal
    )
