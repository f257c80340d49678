-- purpose: where each filling ended, by the level preset
-- grain: one row per treatment and canal
-- inputs: intermediate.int_fills_first_read, intermediate.int_treatments_classified
-- parameters: short_below_mm, within_to_mm
select
    fills.treatment_id,
    fills.canal,
    treatments.patient_id,
    treatments.clinician_id,
    treatments.site_id,
    treatments.tooth,
    treatments.tooth_type,
    treatments.jaw,
    treatments.treatment_type,
    treatments.has_lesion,
    treatments.quarter,
    treatments.month,
    fills.fill_offset_mm,
    fills.level_in_words,
    fills.is_core_beyond,
    fills.is_sealer_beyond,
    fills.has_voids,
    fills.is_taper_consistent,
    fills.film_quality,
    fills.readings,
    case
        when fills.film_quality = 'N' then 'not_assessable'
        -- A word counts where there is no offset; it never becomes an offset.
        when fills.fill_offset_mm is null and fills.level_in_words = 'flush'
            then if($within_to_mm < 0, 'flush', 'within')
        when fills.fill_offset_mm is null then coalesce(fills.level_in_words, 'not_assessable')
        when round(fills.fill_offset_mm, 2) > 0 then 'beyond'
        when round(fills.fill_offset_mm, 2) > $within_to_mm then 'flush'
        when round(fills.fill_offset_mm, 2) >= $short_below_mm then 'within'
        else 'short'
    end as level
from intermediate.int_fills_first_read as fills
inner join intermediate.int_treatments_classified as treatments
    on fills.treatment_id = treatments.treatment_id
order by fills.treatment_id, fills.canal
