-- purpose: reviews of a tooth: readers combined by rule, then the worst root; film and scan apart
-- grain: one row per treatment and review day
-- inputs: staging.stg_follow_ups, intermediate.int_film_readings, intermediate.int_treatments_classified
-- parameters: last_day, reader_rule
with in_time as (
    select reviews.*
    from staging.stg_follow_ups as reviews
    inner join intermediate.int_treatments_classified as treatments
        on reviews.treatment_id = treatments.treatment_id
    where
        treatments.treated_from + to_days(reviews.days_from_treatment) <= cast($last_day as date)
),

roots as (
    select
        treatment_id,
        days_from_treatment,
        canal,
        case $reader_rule
            when 'worst' then max(pai)
            -- the middle reading; halfway between two scores the higher one stands
            when 'consensus' then cast(ceil(median(pai)) as integer)
            else max(pai) filter (where order_of_record = 1)
        end as pai,
        count(distinct reader_id) as readers
    from intermediate.int_film_readings
    group by treatment_id, days_from_treatment, canal
),

teeth as (
    select
        treatment_id,
        days_from_treatment,
        max(pai) as pai,
        max(readers) as readers
    from roots
    group by treatment_id, days_from_treatment
)

select
    in_time.treatment_id,
    in_time.days_from_treatment,
    any_value(teeth.pai) as pai,
    max(in_time.cbct_pai) filter (where in_time.imaging = 'cbct') as cbct_pai,
    coalesce(bool_or(in_time.imaging = 'film'), false) as has_film,
    coalesce(
        bool_or(
            in_time.has_pain or in_time.has_swelling or in_time.has_sinus_tract or in_time.is_tender
        ),
        false
    ) as has_signs,
    bool_and(in_time.is_in_function) as is_in_function,
    bool_and(in_time.is_tooth_present) as is_tooth_present,
    -- where a loss is recorded twice with two reasons, the endodontic one counts
    min(in_time.loss_reason) as loss_reason,
    coalesce(any_value(teeth.readers), 0) as readers
from in_time
left join teeth
    on
        in_time.treatment_id = teeth.treatment_id
        and in_time.days_from_treatment = teeth.days_from_treatment
group by in_time.treatment_id, in_time.days_from_treatment
