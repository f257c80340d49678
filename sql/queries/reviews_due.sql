-- purpose: teeth whose next review falls due by a day: first, yearly, sooner where uncertain
-- grain: one row per treatment that is due, overdue or lost for review
-- inputs: intermediate.int_treatments_classified, intermediate.int_reviews_judged
-- parameters: as_of, first_months, yearly_months, sooner_months, until_months, overdue_months, lost_months
with last_seen as (
    select
        reviews.treatment_id,
        reviews.outcome,
        reviews.days_from_treatment,
        cast(teeth.treated_to + to_days(reviews.days_from_treatment) as date) as seen_on
    from intermediate.int_reviews_judged as reviews
    inner join intermediate.int_treatments_classified as teeth
        on reviews.treatment_id = teeth.treatment_id
    where
        reviews.outcome <> 'not_reviewed'
        and teeth.treated_from + to_days(reviews.days_from_treatment) <= cast($as_of as date)
    qualify
        row_number() over (
            partition by reviews.treatment_id
            order by reviews.days_from_treatment desc
        ) = 1
),

planned as (
    select
        teeth.treatment_id,
        teeth.patient_id,
        teeth.clinician_id,
        case
            when last_seen.treatment_id is null then 'first review'
            when last_seen.outcome in ('healing', 'uncertain') then 'healing or uncertain'
            when last_seen.days_from_treatment < round($first_months * 30.4375) then 'first review'
            else 'yearly review'
        end as kind,
        case
            when last_seen.treatment_id is null then teeth.first_review_on
            when last_seen.outcome like 'lost%' then null
            -- seen early and not yet healed: sooner than, never after, the first countable review
            when
                last_seen.outcome in ('healing', 'uncertain')
                and last_seen.days_from_treatment < round($first_months * 30.4375)
                then least(last_seen.seen_on + to_months($sooner_months), teeth.first_review_on)
            when last_seen.outcome in ('healing', 'uncertain')
                then last_seen.seen_on + to_months($sooner_months)
            when last_seen.days_from_treatment < round($first_months * 30.4375)
                then teeth.first_review_on
            when last_seen.days_from_treatment < round($until_months * 30.4375)
                then last_seen.seen_on + to_months($yearly_months)
        end as due_on
    from intermediate.int_treatments_classified as teeth
    left join last_seen on teeth.treatment_id = last_seen.treatment_id
    where teeth.treated_to <= cast($as_of as date)
)

select
    treatment_id,
    patient_id,
    clinician_id,
    kind,
    strftime(due_on, '%Y-%m') as due_month,
    case
        when due_on + to_months($lost_months) < cast($as_of as date) then 'lost for review'
        when due_on + to_months($overdue_months) < cast($as_of as date) then 'overdue'
        else 'due'
    end as state
from planned
where due_on <= cast($as_of as date)
order by due_on, treatment_id
