-- purpose: confirmed lengths inside one molar differ by more than 6 mm (a proposal, no source)
-- grain: one row per row at fault
-- inputs: loading_canals, known_teeth
-- parameters: none
-- export: canals
-- code: canal.length_spread_large
-- severity: warning
-- column: confirmed_length_mm
-- remedy: check the lengths of this tooth against each other
with spreads as (
    select treatment_id
    from loading_canals
    group by treatment_id
    having max(confirmed_length_mm) - min(confirmed_length_mm) > 6
)

select
    loading_canals.file_number,
    loading_canals.row_number
from loading_canals
inner join spreads
    on loading_canals.treatment_id = spreads.treatment_id
inner join known_teeth
    on loading_canals.treatment_id = known_teeth.treatment_id
where substr(known_teeth.tooth, 2, 1) in ('6', '7', '8')
