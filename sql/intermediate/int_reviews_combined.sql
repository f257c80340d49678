-- purpose: reviews of a tooth: first reading of each root, then the worst root; film only for PAI
-- grain: one row per treatment and review day
-- inputs: staging.stg_follow_ups, intermediate.int_treatments_classified
-- parameters: last_day
with in_time as (
    select
        reviews.*,
        reviews.reader_id is distinct from treatments.clinician_id as is_other_reader
    from staging.stg_follow_ups as reviews
    inner join intermediate.int_treatments_classified as treatments
        on reviews.treatment_id = treatments.treatment_id
    where
        treatments.treated_from + to_days(reviews.days_from_treatment) <= cast($last_day as date)
),

first_readings as (
    select *
    from in_time
    qualify
        row_number() over (
            partition by treatment_id, days_from_treatment, canal, imaging
            order by pai is null, read, is_other_reader, reader_id
        ) = 1
)

select
    in_time.treatment_id,
    in_time.days_from_treatment,
    max(first_readings.pai) filter (where first_readings.imaging = 'film') as pai,
    bool_or(in_time.imaging = 'film') as has_film,
    coalesce(
        bool_or(
            in_time.has_pain or in_time.has_swelling or in_time.has_sinus_tract or in_time.is_tender
        ),
        false
    ) as has_signs,
    bool_and(in_time.is_in_function) as is_in_function,
    bool_and(in_time.is_tooth_present) as is_tooth_present,
    max(in_time.loss_reason) as loss_reason,
    count(distinct in_time.reader_id) as readers
from in_time
left join first_readings
    on
        in_time.treatment_id = first_readings.treatment_id
        and in_time.days_from_treatment = first_readings.days_from_treatment
        and in_time.canal is not distinct from first_readings.canal
        and in_time.imaging is not distinct from first_readings.imaging
group by in_time.treatment_id, in_time.days_from_treatment
