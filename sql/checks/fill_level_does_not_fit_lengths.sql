-- purpose: the level is over 5 mm from where confirmed and film lengths put it (practice, no source)
-- grain: one row per row at fault
-- inputs: loading_fills, known_canals, known_readings
-- parameters: none
-- export: fills
-- code: fill.level_does_not_fit_lengths
-- severity: warning
-- column: fill_offset_mm
-- remedy: check decimal mark (-7 for -0.7), sign and canal; a filling can end there, the lengths say not
with films as (
    select
        treatment_id,
        canal,
        avg(length_mm) as film_mm
    from known_readings
    -- The methods that see the end of the root; the level is counted from it.
    where
        method in ('film', 'film_file', 'cbct')
        and treatment_id in (select treatment_id from loading_fills)
    group by treatment_id, canal
)

select
    loading_fills.file_number,
    loading_fills.row_number
from loading_fills
inner join films
    on
        loading_fills.treatment_id = films.treatment_id
        and loading_fills.canal = films.canal
inner join known_canals
    on
        loading_fills.treatment_id = known_canals.treatment_id
        and loading_fills.canal = known_canals.canal
where
    abs(loading_fills.fill_offset_mm - (known_canals.confirmed_length_mm - films.film_mm)) > 5
