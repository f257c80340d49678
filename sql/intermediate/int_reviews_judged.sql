-- purpose: outcome at each review: strict on the periapical index, signs and function
-- grain: one row per treatment and review day
-- inputs: intermediate.int_reviews_combined, intermediate.int_treatments_classified
-- parameters: uncertain_until_months
select
    reviews.*,
    reviews.days_from_treatment / 30.4375 as months_from_treatment,
    case
        when not reviews.is_tooth_present and reviews.loss_reason = 'endodontic' then 'lost_endodontic'
        when not reviews.is_tooth_present then 'lost_other'
        when reviews.has_signs then 'not_healed'
        when reviews.pai is null then 'not_reviewed'
        when reviews.pai <= 2 and coalesce(reviews.is_in_function, true) then 'healed'
        when reviews.pai <= 2 then 'not_healed'
        when reviews.days_from_treatment / 30.4375 >= $uncertain_until_months then 'not_healed'
        when reviews.pai > coalesce(treatments.preop_pai, 5) then 'not_healed'
        when reviews.pai < treatments.preop_pai then 'healing'
        else 'uncertain'
    end as outcome
from intermediate.int_reviews_combined as reviews
inner join intermediate.int_treatments_classified as treatments
    on reviews.treatment_id = treatments.treatment_id
