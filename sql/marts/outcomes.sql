-- purpose: the outcome of each treated tooth at the review that counts
-- grain: one row per treatment
-- inputs: intermediate.int_reviews_judged, intermediate.int_treatments_classified, marts.tooth_levels
-- parameters: first_countable_months, horizon_months, review_choice, last_day
with countable as (
    select *
    from intermediate.int_reviews_judged
    where
        days_from_treatment >= round($first_countable_months * 30.4375)
        or outcome like 'lost%'
),

chosen as (
    select *
    from countable
    qualify
        row_number() over (
            partition by treatment_id
            order by
                outcome = 'not_reviewed',
                if(
                    $review_choice = 'latest',
                    -days_from_treatment,
                    abs(days_from_treatment - $horizon_months * 30.4375)
                ),
                days_from_treatment
        ) = 1
)

select
    treatments.treatment_id,
    treatments.patient_id,
    treatments.clinician_id,
    treatments.site_id,
    treatments.tooth,
    treatments.tooth_type,
    treatments.treatment_type,
    treatments.has_lesion,
    treatments.preop_pai,
    treatments.pulpal_diagnosis,
    treatments.is_restoration_adequate,
    treatments.quarter,
    treatments.month,
    treatments.first_review_on <= cast($last_day as date) as is_due,
    coalesce(levels.level, 'not_assessable') as level,
    levels.highest_offset_mm,
    levels.lowest_offset_mm,
    chosen.months_from_treatment,
    chosen.pai,
    chosen.cbct_pai,
    chosen.readers,
    coalesce(chosen.outcome, 'not_reviewed') as outcome,
    case
        when chosen.outcome = 'healed' then false
        when chosen.outcome in ('healing', 'uncertain', 'not_healed', 'lost_endodontic') then true
    end as is_not_healed,
    case
        when chosen.outcome in ('healed', 'healing') then false
        when chosen.outcome in ('uncertain', 'not_healed', 'lost_endodontic') then true
    end as is_not_healed_loose
from intermediate.int_treatments_classified as treatments
left join marts.tooth_levels as levels
    on treatments.treatment_id = levels.treatment_id
left join chosen
    on treatments.treatment_id = chosen.treatment_id
order by treatments.treatment_id
