-- purpose: two reads of one film, by two readers or twice by one, for fillings and for PAI
-- grain: one row per measure, kind of comparison, treatment, canal and review day
-- inputs: staging.stg_fills, intermediate.int_film_readings, intermediate.int_treatments_classified
-- parameters: none
with reads as (
    select
        'fill_offset_mm' as measure,
        treatment_id,
        coalesce(canal, '') as canal,
        0 as days_from_treatment,
        reader_id,
        coalesce(read, 1) as read_number,
        fill_offset_mm as value
    from staging.stg_fills
    where fill_offset_mm is not null and film_quality is distinct from 'N'
    union all
    select
        'pai' as measure,
        treatment_id,
        coalesce(canal, '') as canal,
        days_from_treatment,
        reader_id,
        coalesce(read, 1) as read_number,
        pai as value
    from intermediate.int_film_readings
),

-- Between readers only first reads are compared, and the smaller reader code is the first.
pairs as (
    select
        first_read.measure,
        case
            when first_read.reader_id = second_read.reader_id then 'one_reader_twice'
            else 'two_readers'
        end as kind,
        first_read.treatment_id,
        first_read.canal,
        first_read.days_from_treatment,
        first_read.reader_id as first_reader,
        second_read.reader_id as second_reader,
        first_read.value as first_value,
        second_read.value as second_value
    from reads as first_read
    inner join reads as second_read
        on
            first_read.measure = second_read.measure
            and first_read.treatment_id = second_read.treatment_id
            and first_read.canal = second_read.canal
            and first_read.days_from_treatment = second_read.days_from_treatment
            and first_read.reader_id <= second_read.reader_id
    where
        first_read.read_number = 1
        and second_read.read_number
        = case when first_read.reader_id = second_read.reader_id then 2 else 1 end
    qualify
        row_number() over (
            partition by
                first_read.measure, kind, first_read.treatment_id, first_read.canal,
                first_read.days_from_treatment
            order by first_read.reader_id, second_read.reader_id
        ) = 1
)

select
    pairs.*,
    treatments.patient_id,
    treatments.quarter
from pairs
inner join intermediate.int_treatments_classified as treatments
    on pairs.treatment_id = treatments.treatment_id
order by measure, kind, pairs.treatment_id, canal, days_from_treatment
