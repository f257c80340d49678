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

-- First reads only are compared between readers; the smaller reader code is the first.
between_readers as (
    select
        first_read.measure,
        'two_readers' as kind,
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
            and first_read.reader_id < second_read.reader_id
    where first_read.read_number = 1 and second_read.read_number = 1
    qualify
        row_number() over (
            partition by
                first_read.measure, first_read.treatment_id, first_read.canal,
                first_read.days_from_treatment
            order by first_read.reader_id, second_read.reader_id
        ) = 1
),

by_one_reader as (
    select
        first_read.measure,
        'one_reader_twice' as kind,
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
            and first_read.reader_id = second_read.reader_id
    where first_read.read_number = 1 and second_read.read_number = 2
    qualify
        row_number() over (
            partition by
                first_read.measure, first_read.treatment_id, first_read.canal,
                first_read.days_from_treatment
            order by first_read.reader_id
        ) = 1
)

select
    pairs.*,
    treatments.patient_id,
    treatments.quarter
from (
    select * from between_readers
    union all
    select * from by_one_reader
) as pairs
inner join intermediate.int_treatments_classified as treatments
    on pairs.treatment_id = treatments.treatment_id
order by measure, kind, pairs.treatment_id, canal, days_from_treatment
