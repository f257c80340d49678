-- purpose: one method seems to have two canals of a tooth the wrong way round
-- grain: one row per row at fault
-- inputs: loading_readings, swapped_readings
-- parameters: none
-- export: readings
-- code: reading.canals_swapped
-- severity: warning
-- column: canal
-- remedy: likely two canals entered the wrong way round: the other methods read each as the other
select
    loading_readings.file_number,
    loading_readings.row_number
from loading_readings
inner join swapped_readings
    on
        loading_readings.treatment_id = swapped_readings.treatment_id
        and loading_readings.canal = swapped_readings.canal
        and loading_readings.method = swapped_readings.method
