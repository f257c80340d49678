-- purpose: the fills that count now, booleans named as such
-- grain: one row per current row of fills
-- inputs: record.fills
-- parameters: none
select
    treatment_id,
    canal,
    fill_offset_mm,
    cast(fill_level as text) as level_in_words,
    core_beyond as is_core_beyond,
    sealer_beyond as is_sealer_beyond,
    voids as has_voids,
    taper_ok as is_taper_consistent,
    cast(film_quality as text) as film_quality,
    reader_id,
    read
from record.fills
where superseded_by is null
