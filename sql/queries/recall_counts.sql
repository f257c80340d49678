-- purpose: counts of the recall rate among teeth whose first review is due by a day
-- grain: one row per treatment whose first review is due
-- inputs: intermediate.int_treatments_classified, intermediate.int_reviews_judged
-- parameters: as_of, first_months
with known as (
    select
        reviews.treatment_id,
        bool_or(reviews.outcome like 'lost%') as is_lost,
        bool_or(
            reviews.outcome not like 'lost%'
            and reviews.outcome <> 'not_reviewed'
            and reviews.days_from_treatment >= round($first_months * 30.4375)
        ) as is_examined
    from intermediate.int_reviews_judged as reviews
    inner join intermediate.int_treatments_classified as teeth
        on reviews.treatment_id = teeth.treatment_id
    where teeth.treated_from + to_days(reviews.days_from_treatment) <= cast($as_of as date)
    group by reviews.treatment_id
)

select
    teeth.treatment_id,
    coalesce(known.is_examined, false) as is_examined,
    coalesce(known.is_lost, false) and not coalesce(known.is_examined, false) as is_extracted
from intermediate.int_treatments_classified as teeth
left join known on teeth.treatment_id = known.treatment_id
where teeth.first_review_on <= cast($as_of as date)
order by teeth.treatment_id
