-- purpose: the lengths and levels whose last digits are looked at
-- grain: one row per reading, confirmed length and filling of this load
-- inputs: loading_readings, loading_canals, loading_fills
-- parameters: none
select
    'reading: ' || method as series,
    length_mm as value_mm
from loading_readings
union all
select
    'confirmed length' as series,
    confirmed_length_mm as value_mm
from loading_canals
union all
select
    'filling level' as series,
    fill_offset_mm as value_mm
from loading_fills
order by series
