-- purpose: time to loss, and the reviews between which a tooth with a lesion healed, in days
-- grain: one row per treatment with a review
-- inputs: intermediate.int_reviews_judged, intermediate.int_treatments_classified
-- parameters: none
with healed as (
    select
        treatment_id,
        min(days_from_treatment) as first_healed_days
    from intermediate.int_reviews_judged
    where outcome = 'healed'
    group by treatment_id
)

select
    reviews.treatment_id,
    any_value(treatments.patient_id) as patient_id,
    any_value(treatments.quarter) as quarter,
    any_value(treatments.has_lesion) as has_lesion,
    max(reviews.days_from_treatment) as last_seen_days,
    min(reviews.days_from_treatment) filter (where reviews.outcome like 'lost%') as lost_days,
    coalesce(bool_or(reviews.outcome = 'lost_endodontic'), false) as is_lost_endodontic,
    coalesce(
        max(reviews.days_from_treatment) filter (
            where
            reviews.outcome in ('healing', 'uncertain', 'not_healed')
            and (
                healed.first_healed_days is null
                or reviews.days_from_treatment < healed.first_healed_days
            )
        ),
        0
    ) as last_unhealed_days,
    any_value(healed.first_healed_days) as first_healed_days,
    coalesce(
        bool_or(reviews.outcome in ('healed', 'healing', 'uncertain', 'not_healed')), false
    ) as is_judged
from intermediate.int_reviews_judged as reviews
inner join intermediate.int_treatments_classified as treatments
    on reviews.treatment_id = treatments.treatment_id
left join healed
    on reviews.treatment_id = healed.treatment_id
group by reviews.treatment_id
order by reviews.treatment_id
