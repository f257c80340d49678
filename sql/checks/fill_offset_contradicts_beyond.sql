-- purpose: the offset and the beyond marks contradict each other
-- grain: one row per row at fault
-- inputs: loading_fills
-- parameters: none
-- export: fills
-- code: fill.offset_contradicts_beyond
-- severity: warning
-- column: fill_offset_mm
-- remedy: check the sign of the offset and the marks for core and sealer
select
    file_number,
    row_number
from loading_fills
where
    (core_beyond and fill_offset_mm < 0)
    or (not core_beyond and not sealer_beyond and fill_offset_mm > 0)
