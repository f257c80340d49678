-- purpose: the readings that count now, booleans named as such
-- grain: one row per current row of readings
-- inputs: record.readings
-- parameters: none
select
    treatment_id,
    canal,
    method,
    cast(stage as text) as stage,
    replicate,
    length_mm,
    cast(canal_state as text) as canal_state,
    file_size_iso,
    metal_contact as has_metal_contact,
    circuit_checked as is_circuit_checked,
    cast(electrode as text) as electrode,
    stable as is_stable,
    observer_id
from record.readings
where superseded_by is null
