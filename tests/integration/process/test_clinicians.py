"""Clinicians: the drift is found and nobody else is signalled; five messages by rule."""

import re
import tomllib

import numpy as np
import pandas as pd
import pytest

from folders import DEMO
from lengthwise.analyse.clinicians import analyse_clinicians
from lengthwise.analyse.feedback import chosen_messages, control_of
from lengthwise.analyse.measures import Measure
from lengthwise.analyse.rows import ResultRows
from lengthwise.errors import SettingsError
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.process import clinicians
from lengthwise.report.wording import banned_words
from lengthwise.settings import Settings

TRUTH = tomllib.loads((DEMO / "truth.toml").read_text(encoding="utf-8"))["dataset"]
DRIFTING = f"clinician:{TRUTH['drift_clinician']}"


def _b5(run: RunData) -> pd.DataFrame:
    return run.estimates[run.estimates["analysis"] == "B5"]


def test_only_the_drifting_clinician_is_signalled(demo_run: RunData) -> None:
    rows = _b5(demo_run)
    rows = rows[rows["measure"].isin(["observed_expected", "own_change"])]
    signalled = rows[rows["valid"] & (rows["reason"] != "")]
    assert rows["scope"].nunique() == 7
    assert set(signalled["scope"]) == {DRIFTING}
    assert set(signalled["subject"]) == {"fill_beyond"}


def test_drift_is_placed_in_its_quarter(demo_run: RunData) -> None:
    row = demo_run.one(
        analysis="B5", measure="own_change", subject="fill_beyond", scope=DRIFTING
    )
    assert row is not None
    year, month = TRUTH["drift_month"].split("-")
    assert row["reference"] == f"{year}-Q{(int(month) + 2) // 3}"
    assert row["estimate"] > 1.5


def test_estimate_is_pulled_in_and_reliability_grows_with_cases(demo_run: RunData) -> None:
    rows = _b5(demo_run)
    rows = rows[rows["subject"] == "fill_beyond"].pivot_table(
        index="scope", columns="measure", values="estimate"
    )
    cases = _b5(demo_run).query("subject == 'fill_beyond' and measure == 'share'")
    n = cases.set_index("scope")["denominator"].astype(float)
    order = n.sort_values().index
    assert np.all(np.diff(rows.loc[order, "reliability"]) > 0)
    assert rows["reliability"].between(0, 1).all()
    # Observed and expected of all clinicians agree in total: the model has no term for them.
    expected = rows["expected"].sum()
    observed = (rows["observed_expected"] * rows["expected"]).sum()
    assert observed == pytest.approx(expected, rel=1e-6)


def test_fewer_than_five_clinicians_are_not_compared() -> None:
    cases = pd.DataFrame(
        {
            "treatment_id": [f"T{number}" for number in range(80)],
            "patient_id": [f"P{number}" for number in range(80)],
            "clinician_id": [f"C0{number % 4 + 1}" for number in range(80)],
            "quarter": "2025-Q1",
            "is_met": [number % 3 == 0 for number in range(80)],
        }
    )
    outcomes = cases.assign(tooth_type="molar", treatment_type="primary", has_lesion=None)
    rows = ResultRows()
    measure = Measure("fill_within", cases, 0.85, True)
    analyse_clinicians(rows, [measure], outcomes, ["2025-Q1"], Settings())
    table = pd.DataFrame(rows.estimates)
    refused = table[~table["valid"]]
    assert set(table["measure"]) == {"observed_expected"}
    assert set(refused["reason"]) == {
        "4 clinicians with at least 10 cases, fewer than 5: no comparison"
    }


def _own(met: int, cases: int) -> pd.DataFrame:
    return pd.DataFrame({"is_met": [place < met for place in range(cases)]})


def _criterion(name: str, target: float = 0.8, **others: object) -> dict[str, object]:
    return {
        "id": name, "statement": f"Statement {name}", "target": target,
        "direction": "at_least", **others,
    }  # fmt: skip


def test_messages_follow_gap_times_cases_times_control() -> None:
    criteria = (
        _criterion("small_gap_many"),  # 76 of 100: 4 cases
        _criterion("large_gap_few"),  # 2 of 10: 6 cases
        _criterion("not_in_hand", control=0.1),  # 0 of 50: 40 cases x 0.1 = 4, after the first
        _criterion("reached"),
        _criterion("too_few"),
        *(_criterion(f"more_{number}") for number in range(4)),
    )
    own = {
        "small_gap_many": _own(76, 100), "large_gap_few": _own(2, 10),
        "not_in_hand": _own(0, 50), "reached": _own(9, 10), "too_few": _own(0, 9),
        **{f"more_{number}": _own(10 + number, 20) for number in range(4)},
    }  # fmt: skip
    found = chosen_messages(own, criteria, 10)
    assert [message.criterion for message in found] == [
        "large_gap_few", "more_0", "more_1", "small_gap_many", "not_in_hand",
    ]  # fmt: skip
    assert [message.score for message in found] == [6, 6, 5, 4, 4]


def test_message_says_counts_target_and_one_thing_to_do() -> None:
    item = _criterion("dry", suggestion="Dry the canal before the reading")
    (message,) = chosen_messages({"dry": _own(12, 20)}, (item,), 10)
    assert message.text == (
        "Statement dry: 12 of 20 of your cases (60 in 100); with 4 more the target of 80 in 100 "
        "is reached. Dry the canal before the reading."
    )


def test_control_outside_nought_to_one_names_its_criterion() -> None:
    for value in (1.5, -0.1, "high", True):
        with pytest.raises(SettingsError, match="dry: control must lie between 0 and 1"):
            control_of(_criterion("dry", control=value))


def test_demo_messages_are_neutral_and_at_most_five(demo_run: RunData) -> None:
    rows = _b5(demo_run)
    told = rows[rows["measure"].str.startswith("message_")]
    assert told.groupby("scope").size().between(1, 5).all()
    assert banned_words(" ".join(told["reason"])) == []
    for _, own in told.groupby("scope"):
        assert own["estimate"].is_monotonic_decreasing


def test_messages_of_one_clinician_hold_nothing_of_another() -> None:
    """Another's rows may change at will: the messages of the first stay word for word."""
    criteria = (_criterion("x"),)
    own, other = _own(12, 20), _own(0, 977)
    alone = chosen_messages({"x": own}, criteria, 10)
    assert "977" not in alone[0].text
    assert chosen_messages({"x": own.copy(), "y": other}, criteria, 10) == alone


def test_report_names_the_drift_and_keeps_to_the_order_of_codes(demo_run: RunData) -> None:
    shown = clinicians(demo_run).replace("\\", "")
    codes = re.findall(r"\| the filling ends beyond the apex \| (C\d\d) \|", shown)
    assert codes == sorted(codes)
    assert len(codes) == 7
    signals = [line for line in shown.splitlines() if line.startswith("C0")]
    assert len(signals) == 1
    assert signals[0].startswith("C05, the filling ends beyond the apex: 56 observed")
    assert "2025-Q2" in signals[0]
    assert banned_words(shown) == []


def test_rows_of_one_clinician_name_no_other(demo_run: RunData) -> None:
    rows = demo_run.estimates
    own = rows[rows["scope"].str.startswith("clinician:")]
    assert own["scope"].nunique() == 7
    texts = own.select_dtypes(exclude="number").astype(str).agg(" ".join, axis=1)
    for scope, part in texts.groupby(own["scope"]):
        named = set(re.findall(r"\bC0\d\b", " ".join(part)))
        assert named == {scope.partition(":")[2]}
