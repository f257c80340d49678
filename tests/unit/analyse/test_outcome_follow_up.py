"""Recall, weights, bounds, tipping point, survival, dose-response and imputation as rows."""

import numpy as np
import pandas as pd
import pytest
from teeth import PERIOD, random_teeth, teeth_from_counts

from lengthwise.analyse.outcomes import analyse_outcomes
from lengthwise.analyse.rows import ResultRows
from lengthwise.settings import Settings, SmallNumbers


def analysed(teeth: pd.DataFrame, times: pd.DataFrame | None = None) -> ResultRows:
    rows = ResultRows()
    analyse_outcomes(rows, teeth, PERIOD, Settings(), times)
    return rows


def picked(rows: ResultRows, **wanted: str) -> dict[str, object]:
    hits = [r for r in rows.estimates if all(r[key] == value for key, value in wanted.items())]
    assert len(hits) == 1
    return hits[0]


def _unseen(level: str, n: int, start: int) -> pd.DataFrame:
    teeth = teeth_from_counts({level: (0, n)}).assign(
        outcome="not_reviewed", is_not_healed=pd.array([pd.NA] * n, dtype="boolean")
    )
    return teeth.assign(treatment_id=[f"U{start + i}" for i in range(n)])


def _partly_seen() -> pd.DataFrame:
    """Return within 8 of 40 not healed, all seen; short 6 of 20 and 20 more not reviewed."""
    seen = teeth_from_counts({"within": (8, 40), "short": (6, 20)})
    return pd.concat([seen, _unseen("short", 20, 0)], ignore_index=True)


def test_tipping_point_counts_teeth():
    # Share seen within: 0.2. Short, 40 teeth: 0.2 * 40 = 8 = 6 + 2, so 2 of the 20 unseen.
    rows = analysed(_partly_seen())
    tipping = picked(rows, analysis="C7", measure="tipping_count", subject="short")
    expected = picked(rows, analysis="C7", measure="expected_count", subject="short")
    assert (tipping["estimate"], tipping["denominator"], expected["estimate"]) == (2, 20, 6)


def test_tipping_point_in_the_reference_counts_teeth_too():
    # Short 10 of 20, within 4 of 40 and 40 more unseen: 0.5 * 80 = 40 = 4 + 36 of the 40,
    # and 4 of the 40 at the share seen.
    seen = teeth_from_counts({"within": (4, 40), "short": (10, 20)})
    rows = analysed(pd.concat([seen, _unseen("within", 40, 0)], ignore_index=True))
    tipping = picked(rows, analysis="C7", measure="tipping_count_reference", subject="short")
    expected = picked(rows, analysis="C7", measure="expected_count_reference", subject="short")
    assert (tipping["estimate"], tipping["denominator"], expected["estimate"]) == (36, 40, 4)
    own = picked(rows, analysis="C7", measure="tipping_count", subject="short")
    assert "every tooth filled short was reviewed" in own["reason"]


def test_weights_bring_a_systematic_error_nearer_to_nought():
    from bench.bench_review_weights import differences, practice

    random = np.random.default_rng(3)
    made = pd.DataFrame(
        [row for _ in range(12) for row in differences(practice(random, 1.6, True))]
    )
    error = {
        name: (made[f"risk_{name}"] - made["truth"]).mean() for name in ("without", "with")
    }
    assert error["without"] > 0.002
    assert abs(error["with"]) < abs(error["without"])


def test_terms_of_review_and_their_balance_are_written_without_codes():
    rows = analysed(random_teeth(600, share_reviewed=0.6))
    for term in ("short", "beyond", "lesion", "molar", "retreatment"):
        row = picked(rows, analysis="C7", measure="odds_ratio_of_review", subject=term)
        assert row["lower"] < row["estimate"] < row["upper"]
    after = picked(rows, analysis="C7", measure="imbalance_after", subject="lesion")
    assert abs(after["estimate"]) < 0.05
    assert not [row for row in rows.estimates if row["subject"].startswith("C1")]


def test_bounds_take_in_every_possible_outcome():
    rows = analysed(_partly_seen())
    low = picked(rows, analysis="C7", measure="difference_lowest", subject="short")
    high = picked(rows, analysis="C7", measure="difference_highest", subject="short")
    assert low["estimate"] == pytest.approx(6 / 40 - 8 / 40)
    assert high["estimate"] == pytest.approx(26 / 40 - 8 / 40)


def test_recall_raw_and_adjusted_of_a_published_cohort():
    # Marquis and others 2006, 10.1016/j.joen.2005.10.050: of 284 teeth within reach 132 were
    # examined and 10 extracted, 142/284 = 50 %.
    lost = _unseen("within", 10, 200).assign(outcome="lost_endodontic")
    teeth = pd.concat(
        [teeth_from_counts({"within": (20, 132)}), _unseen("within", 142, 0), lost],
        ignore_index=True,
    )
    rows = analysed(teeth)
    raw = picked(rows, analysis="C7", measure="recall_raw")
    adjusted = picked(rows, analysis="C7", measure="recall_adjusted")
    assert raw["estimate"] == pytest.approx(132 / 284)
    assert adjusted["estimate"] == pytest.approx(0.5)


def test_weights_balance_the_reviewed_to_all_teeth():
    teeth = random_teeth(800, seed=3)
    every = np.where(teeth["has_lesion"].astype(bool), 10, 2)  # 1 in 10 and 1 in 2 stay away
    stays_away = np.arange(800) % every == 0
    teeth.loc[stays_away, "is_not_healed"] = pd.NA
    teeth.loc[stays_away, "outcome"] = "not_reviewed"
    rows = analysed(teeth)
    before = picked(rows, analysis="C7", measure="largest_imbalance_before")
    after = picked(rows, analysis="C7", measure="largest_imbalance_after")
    assert before["estimate"] > 0.2
    assert after["estimate"] < 0.05
    effective = picked(rows, analysis="C7", measure="effective_n")
    assert 0 < effective["estimate"] < effective["denominator"]


def test_nobody_missing_needs_no_weights():
    row = picked(analysed(random_teeth()), analysis="C7", measure="risk_difference",
                 subject="short")  # fmt: skip
    assert not row["valid"]
    assert "every tooth was reviewed" in row["reason"]


def test_dose_response_is_one_at_its_reference_and_reaches_both_sides():
    rows = analysed(random_teeth(900, seed=5))
    curve = {
        point["x"]: point["y"] for point in rows.points if point["figure"] == "dose_response"
    }
    assert curve[-1.0] == pytest.approx(1.0)
    assert min(curve) < -2 < 0 < max(curve)
    row = picked(rows, analysis="C5", measure="odds_ratio_per_mm", subject="short")
    assert row["lower"] < row["estimate"] < row["upper"]


def test_too_few_events_give_no_curve_but_a_reason():
    rows = analysed(random_teeth(60))
    row = picked(rows, analysis="C5", measure="odds_ratio_per_mm", subject="short")
    assert not row["valid"]
    assert "events" in row["reason"]
    assert not [point for point in rows.points if point["figure"] == "dose_response"]


def test_imputation_uses_every_tooth():
    teeth = random_teeth(500, seed=8)
    teeth.loc[:99, "has_lesion"] = pd.NA
    rows = analysed(teeth)
    complete = picked(rows, analysis="C2", measure="odds_ratio", subject="short")
    imputed = picked(rows, analysis="C10", measure="odds_ratio", subject="short")
    assert (complete["n_used"], imputed["n_used"]) == (400, 500)
    share = picked(rows, analysis="C10", measure="fraction_missing", subject="short")
    assert 0 <= share["estimate"] < 1


def test_nothing_missing_needs_no_imputation():
    row = picked(
        analysed(random_teeth()), analysis="C10", measure="odds_ratio", subject="short"
    )
    assert "nothing to impute" in row["reason"]


def _times() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "treatment_id": ["T0", "T1", "T2", "T3"],
            "patient_id": ["P0", "P1", "P2", "P3"],
            "has_lesion": pd.array([True] * 4, dtype="boolean"),
            "last_seen_days": [400, 800, 800, 1200],
            "lost_days": pd.array([pd.NA, 500, pd.NA, pd.NA], dtype="Int32"),
            "is_lost_endodontic": [False, True, False, False],
            "last_unhealed_days": [0, 400, 400, 1200],
            "first_healed_days": pd.array([400, pd.NA, 800, pd.NA], dtype="Int32"),
            "is_judged": [True] * 4,
        }
    )


def _many_times(copies: int = 6) -> pd.DataFrame:
    """Return the four teeth so many times over, each of a patient of its own."""
    many = pd.concat([_times()] * copies, ignore_index=True)
    names = [f"{i}" for i in range(len(many))]
    return many.assign(treatment_id=names, patient_id=names)


def test_survival_from_four_teeth_by_hand():
    # One loss at 16.4 months with three teeth at risk: 1 - 1/3.
    few = Settings(small_numbers=SmallNumbers(minimum_denominator=1))
    rows = ResultRows()
    analyse_outcomes(rows, random_teeth(), PERIOD, few, _times())
    row = picked(rows, analysis="C8", measure="survival_24_months", subject="endodontic loss")
    assert row["estimate"] == pytest.approx(2 / 3)
    late = picked(rows, analysis="C8", measure="survival_48_months", subject="any loss")
    assert late["reason"] == "nobody was followed this long"


def test_survival_is_refused_and_not_drawn_where_few_teeth_were_followed():
    rows = analysed(random_teeth(), _times())
    row = picked(rows, analysis="C8", measure="survival_24_months", subject="endodontic loss")
    assert row["reason"] == "fewer than 10 teeth were followed this long"
    assert not [point for point in rows.points if point["figure"] == "tooth_survival"]


def test_survival_is_drawn_month_by_month_with_its_band_and_teeth_at_risk():
    rows = analysed(random_teeth(), _many_times())
    drawn = [p for p in rows.points if p["figure"] == "tooth_survival"]
    at = {p["x"]: p for p in drawn if p["panel"] == "endodontic loss"}
    assert (at[16]["y"], at[17]["y"]) == pytest.approx((1, 2 / 3))
    assert at[17]["lower"] < 2 / 3 < at[17]["upper"]
    assert (at[0]["n"], at[14]["n"]) == (24, 18)


def test_healing_between_reviews_has_an_interval_from_drawing_patients():
    # Healed in (0, 13] 6, in (13, 26] 6, not by 13 6, not by 39 6 of 24: 1/4 by 13 months;
    # the 18 others heal by 26 in 6 of the 12 seen again, so 1/4 + 3/4 * 1/2.
    rows = analysed(random_teeth(), _many_times())
    by_24 = picked(rows, analysis="C8", measure="healed_by_24_months")
    by_36 = picked(rows, analysis="C8", measure="healed_by_36_months")
    assert by_24["estimate"] == pytest.approx(1 / 4, abs=1e-6)
    assert by_36["estimate"] == pytest.approx(5 / 8, abs=1e-6)
    assert by_36["lower"] < 5 / 8 < by_36["upper"]
    assert "draws of patients" in by_36["method"]
    beyond = picked(rows, analysis="C8", measure="healed_by_48_months")
    assert beyond["reason"] == "nobody was followed this long"


def test_no_review_at_all_is_said():
    row = picked(analysed(random_teeth(), _times().head(0)), analysis="C8")
    assert row["reason"] == "no tooth has a review"


def test_the_ordinal_assumption_is_checked_with_the_highest_grades_joined():
    teeth = random_teeth(900)
    index = np.where(
        teeth["is_not_healed"].astype(bool), 3 + np.arange(900) % 2, 1 + np.arange(900) % 2
    )
    # The highest grade occurs at one level only, so no cut at it can be fitted.
    only_short = (teeth["level"] == "short").to_numpy() & (index == 4)
    index = np.where(only_short & (np.arange(900) % 4 == 1), 5, index)
    teeth["pai"] = pd.array(index, dtype="Int32")
    row = picked(analysed(teeth), analysis="C6", measure="p_value")
    assert row["valid"], row["reason"]
    assert "Brant test, index 4 and above joined" in row["method"]
    assert 0 <= row["estimate"] <= 1
