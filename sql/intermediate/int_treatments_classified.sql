-- purpose: treatments up to the period's end, with tooth type, quarter, lesion and first review
-- grain: one row per treatment
-- inputs: staging.stg_treatments
-- parameters: last_month, first_countable_months
with dated as (
    select
        *,
        if(
            substr(period, 6, 1) = 'Q',
            substr(period, 1, 5) || lpad(cast(3 * cast(substr(period, 7, 1) as integer) - 2 as text), 2, '0'),
            period
        ) as first_month
    from staging.stg_treatments
)

select
    *,
    cast(first_month || '-01' as date) as treated_from,
    cast(
        cast(first_month || '-01' as date) + to_months(if(substr(period, 6, 1) = 'Q', 3, 1)) - to_days(1)
        as date
    ) as treated_to,
    -- Periods are months or quarters, so a review counts from the period's last day. A tooth is
    -- due from this day on, for the list of the front desk, the recall rate and the criterion.
    cast(treated_to + to_months($first_countable_months) as date) as first_review_on,
    if(substr(period, 6, 1) = 'Q', null, period) as month,
    substr(first_month, 1, 4) || '-Q'
    || cast(cast(ceil(cast(substr(first_month, 6, 2) as integer) / 3.0) as integer) as text) as quarter,
    if(substr(tooth, 1, 1) in ('1', '2'), 'upper', 'lower') as jaw,
    case
        when substr(tooth, 2, 1) in ('1', '2') then 'incisor'
        when substr(tooth, 2, 1) = '3' then 'canine'
        when substr(tooth, 2, 1) in ('4', '5') then 'premolar'
        else 'molar'
    end as tooth_type,
    preop_pai >= 3 as has_lesion
from dated
where first_month <= $last_month
