"""Every rule of the outcome, at its boundary, on rows written by hand.

PAI 1-2 healthy and 3-5 disease: Ørstavik, Kerekes & Eriksen 1986,
10.1111/j.1600-9657.1986.tb00119.x, with the cut of the Toronto study (absent = PAI < 3,
de Chevigny 2008, 10.1016/j.joen.2007.10.017). Strict and loose success: Ng 2007,
10.1111/j.1365-2591.2007.01322.x. The 12 and 48 months are settings of the practice.
"""

import pandas as pd
import pytest
from derived import derived, outcome_of, review, tooth

from lengthwise.settings import FollowUp

TWO_YEARS, FOUR_YEARS = 730, 1461


@pytest.mark.parametrize(
    ("pai", "expected"),
    [(1, "healed"), (2, "healed"), (3, "healing"), (4, "uncertain"), (5, "not_healed")],
)
def test_index_against_a_lesion_of_4(pai, expected):
    assert outcome_of([review(pai=pai)]) == expected


@pytest.mark.parametrize("sign", ["has_pain", "has_swelling", "has_sinus_tract", "is_tender"])
def test_each_sign_alone_stands_against_healed(sign):
    assert outcome_of([review(**{sign: True})]) == "not_healed"


def test_a_healthy_film_on_a_tooth_out_of_function_is_not_healed():
    assert outcome_of([review(is_in_function=False)]) == "not_healed"


def test_signs_not_recorded_do_not_count_against_the_tooth():
    assert outcome_of([review(has_pain=None, is_in_function=None)]) == "healed"


@pytest.mark.parametrize(
    ("days", "pai", "expected"),
    [
        (TWO_YEARS, 4, "uncertain"),
        (FOUR_YEARS - 1, 4, "uncertain"),
        (FOUR_YEARS, 4, "not_healed"),
        (FOUR_YEARS - 1, 3, "healing"),
        (FOUR_YEARS, 3, "not_healed"),
        (FOUR_YEARS, 2, "healed"),
    ],
)
def test_a_lesion_that_stays_is_uncertain_until_48_months(days, pai, expected):
    assert outcome_of([review(days_from_treatment=days, pai=pai)]) == expected


@pytest.mark.parametrize(("preop", "expected"), [(None, "uncertain"), (1, "not_healed")])
def test_lesion_at_review_without_a_lesion_before(preop, expected):
    assert outcome_of([review(pai=3)], teeth=[tooth(preop_pai=preop)]) == expected


@pytest.mark.parametrize(
    ("days", "expected"), [(274, "not_reviewed"), (364, "not_reviewed"), (365, "healed")]
)
def test_first_countable_review_is_at_12_months(days, expected):
    assert outcome_of([review(days_from_treatment=days)]) == expected


def test_the_first_countable_month_is_a_setting():
    rule = FollowUp(first_countable_months=6)
    assert outcome_of([review(days_from_treatment=274)], follow_up=rule) == "healed"


def test_worst_root_gives_the_tooth_its_score():
    roots = [review(canal=c, pai=p) for c, p in (("MB", 1), ("DB", 4), ("P", 2))]
    row = derived(roots).iloc[0]
    assert (row["pai"], row["outcome"]) == (4, "uncertain")


@pytest.mark.parametrize(
    ("reason", "outcome", "strict"),
    [("endodontic", "lost_endodontic", True), ("other", "lost_other", None)],
)
def test_losses_are_split_by_reason_and_count_at_any_time(reason, outcome, strict):
    lost = review(days_from_treatment=90, pai=None, is_tooth_present=False, loss_reason=reason)
    row = derived([lost]).iloc[0]
    assert row["outcome"] == outcome
    assert (None if pd.isna(row["is_not_healed"]) else bool(row["is_not_healed"])) is strict


@pytest.mark.parametrize(
    ("pai", "strict", "loose"),
    [(1, False, False), (3, True, False), (4, True, True), (5, True, True)],
)
def test_strict_counts_healed_only_and_loose_also_healing(pai, strict, loose):
    row = derived([review(pai=pai)]).iloc[0]
    assert (row["is_not_healed"], row["is_not_healed_loose"]) == (strict, loose)


def test_a_scan_alone_gives_no_outcome():
    row = derived([review(imaging="cbct", pai=None, cbct_pai=3)]).iloc[0]
    assert row["outcome"] == "not_reviewed"
    assert (pd.isna(row["pai"]), row["cbct_pai"]) == (True, 3)


def test_a_scan_on_the_same_day_does_not_move_the_film_score():
    both = [review(pai=2), review(imaging="cbct", pai=5, cbct_pai=5)]
    row = derived(both).iloc[0]
    assert (row["pai"], row["cbct_pai"], row["outcome"]) == (2, 5, "healed")


@pytest.mark.parametrize(
    ("choice", "horizon", "months"),
    [("nearest_horizon", 12, 13), ("nearest_horizon", 24, 25), ("latest", 12, 37)],
)
def test_which_review_counts(choice, horizon, months):
    reviews = [review(days_from_treatment=round(m * 30.4375)) for m in (6, 13, 25, 37)]
    rule = FollowUp(choice=choice, horizon_months=horizon)
    found = derived(reviews, follow_up=rule)["months_from_treatment"].item()
    assert found == pytest.approx(months, abs=0.02)


def test_a_review_without_a_result_gives_way_to_one_with():
    reviews = [
        review(days_from_treatment=366, pai=None),
        review(days_from_treatment=800, pai=5),
    ]
    assert outcome_of(reviews) == "not_healed"


def test_of_two_reviews_as_far_from_the_horizon_the_earlier_counts():
    rule = FollowUp(horizon_months=24)  # 730.5 days
    reviews = [review(days_from_treatment=730, pai=5), review(days_from_treatment=731, pai=1)]
    assert outcome_of(reviews, follow_up=rule) == "not_healed"


READERS = [
    review(reader_id="C1", pai=2),
    review(reader_id="R2", pai=3),
    review(reader_id="R3", pai=3),
    review(reader_id="C1", read=2, pai=5),
]


@pytest.mark.parametrize(
    ("rule", "rows", "expected"),
    [
        ("first", READERS[:3], 2),
        ("worst", READERS, 5),
        ("consensus", READERS[:3], 3),
        ("consensus", READERS[:2], 3),
        ("first", READERS[1:3], 3),
    ],
)
def test_several_readers_are_combined_by_the_declared_rule(rule, rows, expected):
    row = derived(rows, follow_up=FollowUp(reader_rule=rule)).iloc[0]
    assert row["pai"] == expected
    assert row["readers"] == len({item["reader_id"] for item in rows})


def test_readers_are_combined_within_a_root_before_the_worst_root_is_taken():
    rows = [
        review(canal="MB", reader_id="C1", pai=4),
        review(canal="MB", reader_id="R2", pai=1),
        review(canal="P", reader_id="C1", pai=1),
        review(canal="P", reader_id="R2", pai=4),
    ]
    rule = FollowUp(reader_rule="first")
    assert derived(rows, follow_up=rule)["pai"].item() == 4
    assert derived(rows[2:], follow_up=rule)["pai"].item() == 1


@pytest.mark.parametrize(("quarter", "pairs"), [("2018-Q4", 0), ("2019-Q1", 1)])
def test_readers_are_compared_on_films_taken_by_the_end_of_the_period(quarter, pairs):
    rows = [
        review(days_from_treatment=400, reader_id="C1", pai=2),
        review(days_from_treatment=400, reader_id="R2", pai=3),
        review(days_from_treatment=400, reader_id="R3", imaging="cbct", pai=None, cbct_pai=4),
    ]
    found = derived(rows, quarter=quarter, table="marts.reader_pairs")
    assert len(found) == pairs
    if pairs:
        row = found.iloc[0]
        assert (row["first_value"], row["second_value"]) == (2, 3)


def test_reviews_after_the_period_are_not_seen():
    assert outcome_of([review(days_from_treatment=400)], quarter="2018-Q4") == "not_reviewed"


# The last day of the period is what counts: 12 months after it fall on the last day of a quarter
# for treatments of March and of the first quarter, and on the day after it for no other.
@pytest.mark.parametrize(
    ("period", "quarter", "is_due"),
    [
        ("2018-01", "2018-Q4", False),
        ("2018-01", "2019-Q1", True),
        ("2018-03", "2019-Q1", True),
        ("2018-04", "2019-Q1", False),
        ("2018-Q1", "2018-Q4", False),
        ("2018-Q1", "2019-Q1", True),
        ("2018-Q2", "2019-Q1", False),
    ],
)
def test_a_tooth_is_due_from_12_months_after_the_last_day_of_its_period(
    period, quarter, is_due
):
    found = derived([], teeth=[tooth(period=period)], quarter=quarter)
    assert bool(found["is_due"].item()) == is_due


@pytest.mark.parametrize(
    ("offsets", "level"),
    [
        ((-1.0, 0.1), "beyond"),
        ((-2.1, 0.1), "beyond"),
        ((-2.0, 0.0), "within"),
        ((-2.01, -1.0), "short"),
        ((None, -1.0), "not_assessable"),
        ((None, 0.5), "beyond"),
    ],
)
def test_level_of_a_tooth_is_that_of_its_worst_canal(offsets, level):
    fills = [
        {
            "treatment_id": "T1",
            "canal": f"K{i}",
            "fill_offset_mm": o,
            "reader_id": "C1",
            "read": 1,
        }
        for i, o in enumerate(offsets)
    ]
    assert derived([review()], fills=fills)["level"].item() == level


@pytest.mark.parametrize(
    ("preset", "offset", "level"),
    [
        ("0-2", -2.0, "within"),
        ("0-2", -2.01, "short"),
        ("0-2", 0.0, "within"),
        ("0-2", 0.01, "beyond"),
        ("0-2", None, "not_assessable"),
        ("0.5-2", -0.5, "within"),
        ("0.5-2", -0.49, "flush"),
        ("0.5-2", 0.0, "flush"),
        ("0.5-2", 0.01, "beyond"),
        ("0-3", -3.0, "within"),
        ("0-3", -3.01, "short"),
    ],
)
def test_levels_at_the_ends_of_each_preset(preset, offset, level):
    fills = [{"treatment_id": "T1", "canal": "P", "fill_offset_mm": offset, "reader_id": "C1"}]
    assert derived([review()], fills=fills, preset=preset)["level"].item() == level


def test_times_bracket_healing_between_two_reviews():
    reviews = [
        review(days_from_treatment=200, pai=4),
        review(days_from_treatment=400, pai=3),
        review(days_from_treatment=800, pai=2),
    ]
    row = derived(reviews, table="marts.tooth_times").iloc[0]
    assert (row["last_unhealed_days"], row["first_healed_days"]) == (400, 800)
    assert pd.isna(row["lost_days"])


def test_times_of_a_tooth_lost_after_it_had_healed():
    lost = review(
        days_from_treatment=900, pai=None, is_tooth_present=False, loss_reason="other"
    )
    row = derived([review(), lost], table="marts.tooth_times").iloc[0]
    assert (row["first_healed_days"], row["lost_days"]) == (400, 900)
    assert not row["is_lost_endodontic"]
