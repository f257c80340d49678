-- purpose: fillings with core or sealer beyond the apex in lower posterior teeth, near the nerve
-- grain: one row per filling
-- inputs: marts.fills
-- parameters: quarter
select
    treatment_id,
    canal,
    tooth,
    clinician_id,
    coalesce(month, quarter) as period,
    fill_offset_mm as value_mm,
    case
        when is_core_beyond then 'core beyond'
        when is_sealer_beyond then 'sealer beyond'
        when fill_offset_mm is null then 'beyond, in words'
        else 'offset beyond'
    end as detail
from marts.fills
where
    quarter = $quarter
    and jaw = 'lower'
    and tooth_type in ('premolar', 'molar')
    and (
        fill_offset_mm > 0
        or is_core_beyond
        or is_sealer_beyond
        or (fill_offset_mm is null and level_in_words = 'beyond')
    )
order by treatment_id, canal
