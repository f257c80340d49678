-- purpose: the level in words contradicts the offset, or the marks for core and sealer
-- grain: one row per row at fault
-- inputs: loading_fills
-- parameters: none
-- export: fills
-- code: fill.level_contradicts_marks
-- severity: warning
-- column: fill_level
-- remedy: check the level in words against the offset, its sign, and the marks for core and sealer
select
    file_number,
    row_number
from loading_fills
where
    (fill_level = 'beyond' and fill_offset_mm <= 0)
    or (fill_level <> 'beyond' and fill_offset_mm > 0)
    or (fill_level <> 'beyond' and core_beyond)
    or (fill_level = 'beyond' and not core_beyond and not sealer_beyond)
