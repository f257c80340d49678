-- purpose: reviews of a tooth: worst root and worst reader, film only for the index
-- grain: one row per treatment and review day
-- inputs: staging.stg_follow_ups, intermediate.int_treatments_classified
-- parameters: last_day
select
    reviews.treatment_id,
    reviews.days_from_treatment,
    max(reviews.pai) filter (where reviews.imaging = 'film') as pai,
    bool_or(reviews.imaging = 'film') as has_film,
    coalesce(
        bool_or(
            reviews.has_pain or reviews.has_swelling or reviews.has_sinus_tract or reviews.is_tender
        ),
        false
    ) as has_signs,
    bool_and(reviews.is_in_function) as is_in_function,
    bool_and(reviews.is_tooth_present) as is_tooth_present,
    max(reviews.loss_reason) as loss_reason,
    count(distinct reviews.reader_id) as readers
from staging.stg_follow_ups as reviews
inner join intermediate.int_treatments_classified as treatments
    on reviews.treatment_id = treatments.treatment_id
where treatments.treated_from + to_days(reviews.days_from_treatment) <= cast($last_day as date)
group by reviews.treatment_id, reviews.days_from_treatment
