-- purpose: counts of the recall rate among teeth whose first review is due by a day
-- grain: one row per treatment whose first review is due
-- inputs: intermediate.int_treatments_classified, intermediate.int_reviews_judged
-- parameters: as_of, first_months
with teeth as (
    select
        treatment_id,
        treated_from,
        cast(treated_from + to_months(if(month is null, 3, 1)) - to_days(1) as date) as treated_to
    from intermediate.int_treatments_classified
),

known as (
    select
        reviews.treatment_id,
        bool_or(reviews.outcome like 'lost%') as is_lost,
        bool_or(
            reviews.outcome not like 'lost%'
            and reviews.outcome <> 'not_reviewed'
            and reviews.days_from_treatment >= round($first_months * 30.4375)
        ) as is_examined
    from intermediate.int_reviews_judged as reviews
    inner join teeth on reviews.treatment_id = teeth.treatment_id
    where teeth.treated_from + to_days(reviews.days_from_treatment) <= cast($as_of as date)
    group by reviews.treatment_id
)

select
    teeth.treatment_id,
    coalesce(known.is_examined, false) as is_examined,
    coalesce(known.is_lost, false) and not coalesce(known.is_examined, false) as is_extracted
from teeth
left join known on teeth.treatment_id = known.treatment_id
where teeth.treated_to + to_months($first_months) <= cast($as_of as date)
order by teeth.treatment_id
