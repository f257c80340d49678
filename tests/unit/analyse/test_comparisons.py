"""This quarter beside earlier ones: which quarters, which measures, what is refused."""

import numpy as np
import pandas as pd
import pytest

from lengthwise.analyse.comparisons import analyse_comparisons
from lengthwise.analyse.measures import Measure
from lengthwise.analyse.rows import ResultRows
from lengthwise.settings import Settings

SHARES = {"2025-Q2": (12, 40), "2026-Q1": (20, 40), "2026-Q2": (30, 40)}


def cases(shares):
    parts = []
    for quarter, (met, total) in shares.items():
        parts.append(
            pd.DataFrame(
                {
                    "patient_id": [f"{quarter}-{row}" for row in range(total)],
                    "clinician_id": "C01", "site_id": "S1", "treatment_id": "T1",
                    "quarter": quarter, "month": f"{quarter[:4]}-01",
                    "is_met": np.arange(total) < met,
                }
            )
        )  # fmt: skip
    return pd.concat(parts, ignore_index=True)


def compared(measures, pairs=None, criteria=()):
    rows = ResultRows()
    if pairs is None:
        pairs = cases(SHARES).assign(method="electronic", difference_mm=np.nan)
    analyse_comparisons(rows, measures, pairs, "2026-Q2", Settings(criteria=criteria))
    return pd.DataFrame(rows.estimates)


def test_the_quarter_before_and_the_same_quarter_last_year_are_compared():
    found = compared([Measure("fill_short", cases(SHARES), None, False)])
    changes = found[found["measure"] == "share_change"].set_index("stratum")
    assert changes.loc["previous_quarter", "estimate"] == pytest.approx(10 / 40)
    assert changes.loc["quarter_last_year", "estimate"] == pytest.approx(18 / 40)
    assert changes.loc["previous_quarter", "reference"] == "2026-Q1"
    assert changes.loc["quarter_last_year", "reference"] == "2025-Q2"
    assert (changes["lower"] < changes["estimate"]).all()
    assert found["result_id"].is_unique


def test_shares_then_and_now_keep_their_counts_and_periods():
    found = compared([Measure("fill_short", cases(SHARES), None, False)])
    then = found[(found["measure"] == "share_then") & (found["stratum"] == "previous_quarter")]
    assert then[["numerator", "denominator", "period"]].to_numpy().tolist() == [
        [20, 40, "2026-Q1"]
    ]


def test_a_quarter_without_cases_gives_a_reason_and_no_change():
    only_now = {"2026-Q2": (30, 40)}
    found = compared([Measure("fill_short", cases(only_now), None, False)])
    changes = found[found["measure"] == "share_change"]
    assert not changes["valid"].any()
    assert (changes["reason"] == "0 cases before, fewer than 10: counts only").all()


def test_a_criterion_over_all_cases_has_no_quarter_of_its_own():
    criteria = ({"id": "reviewed", "window": "all"},)
    found = compared([Measure("reviewed", cases(SHARES), 0.7, True)], criteria=criteria)
    assert found.empty


def test_agreement_within_tolerance_includes_its_edge():
    pairs = cases({"2026-Q1": (20, 40), "2026-Q2": (20, 40)}).assign(method="electronic")
    is_now = pairs["quarter"] == "2026-Q2"
    # 0.5 mm is inside, also where the subtraction leaves a digit of noise.
    pairs["difference_mm"] = np.where(is_now, -(20.3 - 19.8), 0.51)
    found = compared([], pairs).set_index(["stratum", "measure"])
    assert found.loc[("previous_quarter", "share_now"), "numerator"] == 40
    assert found.loc[("previous_quarter", "share_then"), "numerator"] == 0
    assert found["subject"].unique().tolist() == ["electronic_within_tolerance"]
