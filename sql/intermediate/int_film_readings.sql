-- purpose: periapical index read from films up to the period's end, in the order of record
-- grain: one row per treatment, review day, root, reader and read
-- inputs: staging.stg_follow_ups, intermediate.int_treatments_classified
-- parameters: last_day
select
    reviews.treatment_id,
    reviews.days_from_treatment,
    reviews.canal,
    reviews.reader_id,
    reviews.read,
    reviews.pai,
    -- of equal reads the treating clinician's stands first, then the lower reader code
    row_number() over (
        partition by reviews.treatment_id, reviews.days_from_treatment, reviews.canal
        order by
            reviews.read,
            reviews.reader_id is distinct from treatments.clinician_id,
            reviews.reader_id
    ) as order_of_record
from staging.stg_follow_ups as reviews
inner join intermediate.int_treatments_classified as treatments
    on reviews.treatment_id = treatments.treatment_id
where
    reviews.imaging = 'film'
    and reviews.pai is not null
    and treatments.treated_from + to_days(reviews.days_from_treatment) <= cast($last_day as date)
