-- purpose: the canals that count now, booleans named as such
-- grain: one row per current row of canals
-- inputs: record.canals
-- parameters: none
select
    treatment_id,
    canal,
    cast(root as text) as root,
    cast(reference_point as text) as reference_point,
    patency as is_patent,
    apical_size_iso,
    taper_pct,
    confirmed_length_mm
from record.canals
where superseded_by is null
