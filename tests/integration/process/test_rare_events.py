"""Rare events, monthly means, wide funnels and the private CUSUM, on rows written by hand."""

import numpy as np
import pandas as pd
import pytest

from cases_by_month import monthly_cases
from lengthwise.analyse.clinicians import fitted_case_mix, with_case_mix
from lengthwise.analyse.funnels import analyse_funnels
from lengthwise.analyse.measures import Measure
from lengthwise.analyse.private_cusum import analyse_private_cusum
from lengthwise.analyse.rare_events import (
    analyse_individuals,
    analyse_rare_events,
    incident_measure,
)
from lengthwise.analyse.rows import ResultRows
from lengthwise.settings import PrivateCusum, Settings

# Uneventful cases before each event (an own example): mean 14.833, upper limit 60.809 by
# mean + 3 sqrt(mean (mean + 1)), Benneyan 2001, doi:10.1023/A:1011846412909.
BETWEEN = (12, 3, 25, 8, 0, 40, 15, 7, 19, 5, 11, 33)


def _rare(between: tuple[int, ...]) -> pd.DataFrame:
    events = [flag for gap in between for flag in [False] * gap + [True]]
    frame = monthly_cases([(0, 10)] * (-(-len(events) // 10))).iloc[: len(events)].copy()
    frame["treatment_id"] = [f"T{place:04d}" for place in range(len(frame))]
    return frame.assign(is_met=events)


def _table(rows: ResultRows) -> pd.DataFrame:
    return pd.DataFrame(rows.estimates)


def test_cases_between_events_are_counted_in_the_order_of_time() -> None:
    rows = ResultRows()
    cases = _rare(BETWEEN).sample(frac=1, random_state=3)
    analyse_rare_events(rows, [Measure("incident", cases, None, False)], "2024-Q1")
    points = pd.DataFrame(rows.points)
    values = points[points["series"] == "value"]
    assert tuple(values["y"].astype(int)) == BETWEEN
    assert values["upper"].iloc[0] == pytest.approx(60.808870, abs=1e-6)
    centre = _table(rows).set_index("measure").loc["g_centre", "estimate"]
    assert centre == 11.5


def test_a_long_stretch_without_an_event_is_said_with_its_month() -> None:
    rows = ResultRows()
    cases = _rare((*BETWEEN, 90))
    analyse_rare_events(rows, [Measure("incident", cases, None, False)], "2024-Q1")
    said = _table(rows).set_index("measure").loc["g_outside"]
    assert said["estimate"] == 1
    assert said["reason"].startswith("longer than usual without an event before that of")
    assert "of 13 points lie above the limit by luck alone" in said["reason"]
    assert cases[cases["is_met"]]["month"].max() in said["reason"]


def test_of_a_criterion_the_misses_are_the_events_and_common_ones_get_no_such_chart() -> None:
    rare = _rare(BETWEEN).assign(is_met=lambda frame: ~frame["is_met"])
    common = monthly_cases([(15, 30)] * 20)
    rows = ResultRows()
    wanted = Measure("no_core_beyond", rare, 0.95, True)
    analyse_rare_events(rows, [wanted, Measure("x", common, None, False)], "2024-Q1")
    assert {row["subject"] for row in rows.estimates} == {"no_core_beyond"}
    values = [row["y"] for row in rows.points if row["series"] == "value"]
    assert tuple(values) == BETWEEN


def test_too_few_events_and_cases_without_months_are_refused_in_words() -> None:
    few, undated = _rare(BETWEEN[:4]), _rare(BETWEEN).assign(month=None)
    rows = ResultRows()
    for cases in (few, undated):
        analyse_rare_events(rows, [Measure("incident", cases, None, False)], "2024-Q1")
    assert rows.points == []
    assert [row["reason"] for row in rows.estimates] == [
        "not enough points: 4 of at least 10",
        "cases without a month: the order of the cases is not known",
    ]


def test_a_practice_without_any_incident_on_record_gets_no_measure() -> None:
    teeth = _rare(BETWEEN)
    assert incident_measure(teeth.assign(is_met=False)) == []
    (measure,) = incident_measure(teeth)
    assert not measure.higher_is_wanted


def test_monthly_means_have_the_limits_of_the_individuals_chart() -> None:
    # Twelve differences in mm (an own example): mean -0.033333, limits -1.194 and 1.127 with
    # the factor 2.66 = 3 / 1.128; 3 / (2 / sqrt(pi)) = 2.6587 is used here.
    means = [-0.4, 0.1, -0.2, 0.3, 0.0, -0.5, 0.2, -0.1, 0.4, -0.3, 0.1, 0.0]
    months = pd.period_range("2024-01", periods=12, freq="M").astype(str)
    frame = pd.DataFrame(
        {
            "month": np.repeat(months, 5),
            "fill_offset_mm": np.repeat(means, 5),
            "level": "within",
        }
    )
    pairs = pd.DataFrame(
        {"month": ["2024-01"] * 3, "method": "electronic", "difference_mm": 0.1}
    )
    rows = ResultRows()
    analyse_individuals(rows, frame, pairs, "2024-Q1", Settings())
    table = _table(rows).set_index(["subject", "measure"])
    assert table.loc[("fill_offset_mm", "xmr_centre"), "estimate"] == pytest.approx(
        -0.033333, abs=1e-6
    )
    value = next(row for row in rows.points if row["series"] == "value")
    half = 3 * 0.436364 * np.sqrt(np.pi) / 2
    assert value["upper"] == pytest.approx(-0.033333 + half, abs=1e-4)
    assert not table.loc[("electronic_difference_mm", "xmr_outside"), "valid"]


def _units(count: int) -> pd.DataFrame:
    sizes = (40, 52, 35, 60, 45, 38, 55, 62, 48, 50, 30, 41)
    met = (3, 7, 4, 12, 2, 9, 6, 15, 5, 8, 1, 11)
    frames = [
        monthly_cases([(met[place], sizes[place])]).assign(
            clinician_id=f"C{place:02d}",
            patient_id=[f"{place}-{n}" for n in range(sizes[place])],
        )
        for place in range(count)
    ]
    return pd.concat(frames)


def test_ten_units_get_widened_limits_and_nine_do_not() -> None:
    """The twelve units are an own example; phi and tau squared to its arcsine solution with
    the target as centre, Spiegelhalter 2005, doi:10.1136/qshc.2005.013755.
    """
    rows = ResultRows()
    measure = Measure("fill_short", _units(12), 83 / 556, False)
    analyse_funnels(rows, [measure], ["2024-Q1"], Settings())
    table = _table(rows).query("stratum_kind == ''").set_index("measure")
    assert table.loc["dispersion", "estimate"] == pytest.approx(2.007194, abs=1e-6)
    assert table.loc["between_units_variance", "estimate"] == pytest.approx(
        0.00644386, abs=1e-8
    )
    drawn = {point["series"] for point in rows.points}
    assert {"limit_95_widened", "limit_99_8_widened"} <= drawn
    few = ResultRows()
    analyse_funnels(
        few, [Measure("fill_short", _units(9), 0.15, False)], ["2024-Q1"], Settings()
    )
    (said,) = [row for row in few.estimates if row["measure"] == "dispersion"]
    assert said["reason"] == "9 units, fewer than 10: limits are not widened"
    assert not any("widened" in point["series"] for point in few.points)


def _own_cases(events: dict[str, list[int]]) -> tuple[pd.DataFrame, pd.DataFrame]:
    frames = []
    for name, own in events.items():
        frame = monthly_cases([(0, 10)] * (len(own) // 10)).assign(clinician_id=name)
        frame["treatment_id"] = [f"{name}-{place:04d}" for place in range(len(frame))]
        frames.append(
            frame.assign(patient_id=frame["treatment_id"], is_met=[bool(e) for e in own])
        )
    cases = pd.concat(frames, ignore_index=True)
    teeth = cases[["treatment_id"]].assign(
        tooth_type="molar", treatment_type="primary", has_lesion=False
    )
    return cases, teeth


STEADY = [1, 0, 0, 0, 0, 0, 0, 0, 0, 0] * 20
DOUBLED = STEADY[:100] + [1, 0, 0, 1, 0, 0, 1, 0, 1, 0] * 10


def test_private_cusum_is_off_unless_asked_for() -> None:
    cases, teeth = _own_cases({"C01": STEADY, "C02": DOUBLED})
    rows = ResultRows()
    analyse_private_cusum(
        rows, [Measure("fill_beyond", cases, None, False)], teeth, ["2024-Q1"], Settings()
    )
    assert rows.estimates == []
    assert not Settings().private_cusum.is_wanted


def test_private_cusum_signals_the_change_in_the_own_scope_only() -> None:
    cases, teeth = _own_cases({"C01": STEADY, "C02": DOUBLED, "C03": STEADY, "C04": STEADY})
    rows = ResultRows()
    settings = Settings(private_cusum=PrivateCusum(is_wanted=True, run_length=200))
    measure = Measure("fill_beyond", cases, None, False)
    analyse_private_cusum(rows, [measure], teeth, ["2024-Q1"], settings)
    table = _table(rows)
    assert rows.points == []
    assert set(table["scope"]) == {f"clinician:C0{number}" for number in range(1, 5)}
    signals = table[table["measure"] == "cusum_signal"].set_index("scope")
    assert signals["estimate"].to_dict() == {
        "clinician:C01": 0, "clinician:C02": 1, "clinician:C03": 0, "clinician:C04": 0,
    }  # fmt: skip
    assert "passed its threshold in 2024-1" in signals.loc["clinician:C02", "reason"]
    limit = table[table["measure"] == "cusum_threshold"].iloc[0]
    assert "after 2" in limit["reason"]  # the wanted 200 own cases, by simulation
    scores = table[(table["measure"] == "cusum_score") & (table["scope"] == "clinician:C01")]
    assert len(scores) == 20


def test_private_cusum_without_months_or_events_is_refused() -> None:
    cases, teeth = _own_cases({"C01": STEADY})
    settings = Settings(private_cusum=PrivateCusum(is_wanted=True))
    rows = ResultRows()
    for changed in (cases.assign(month=None), cases.assign(is_met=False)):
        measure = Measure("fill_beyond", changed, None, False)
        analyse_private_cusum(rows, [measure], teeth, ["2024-Q1"], settings)
    reasons = [row["reason"] for row in rows.estimates]
    assert reasons[0] == "cases without a month have no place in the order of time"
    assert "fewer than 5: no model" in reasons[1]


def test_case_mix_risk_is_the_share_where_case_mix_is_alike() -> None:
    cases, teeth = _own_cases({"C01": STEADY, "C02": DOUBLED})
    held = with_case_mix(Measure("fill_beyond", cases, None, False), teeth)
    assert fitted_case_mix(held).risk[0] == pytest.approx(held["event"].mean(), rel=1e-9)
