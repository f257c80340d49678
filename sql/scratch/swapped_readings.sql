-- purpose: two canals of a tooth where one method reads what the other methods say of the other
-- grain: one row per treatment, canal and method
-- inputs: canals_apart, readings_apart, check_limits
-- parameters: none
with possible as (
    select
        treatment_id,
        canal
    from canals_apart
    where may_be_swapped
    qualify count(*) over (partition by treatment_id) > 1
),

method_means as (
    select
        readings_apart.treatment_id,
        readings_apart.canal,
        readings_apart.method,
        avg(readings_apart.length_mm) as mean_mm
    from readings_apart
    inner join possible
        on
            readings_apart.treatment_id = possible.treatment_id
            and readings_apart.canal = possible.canal
    group by readings_apart.treatment_id, readings_apart.canal, readings_apart.method
),

beside_others as (
    select
        method_means.*,
        (sum(method_means.mean_mm) over canal - method_means.mean_mm)
        / nullif(count(*) over canal - 1, 0) as others_mm
    from method_means
    window canal as (partition by method_means.treatment_id, method_means.canal)
)

select distinct
    own.treatment_id,
    own.canal,
    own.method
from beside_others as own
inner join beside_others as swapped
    on
        own.treatment_id = swapped.treatment_id
        and own.method = swapped.method
        and own.canal <> swapped.canal
cross join check_limits
where
    abs(own.others_mm - swapped.others_mm) >= 2 * check_limits.review_mm
    and abs(own.mean_mm - swapped.others_mm) <= check_limits.tolerance_mm
    and abs(swapped.mean_mm - own.others_mm) <= check_limits.tolerance_mm
