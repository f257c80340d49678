"""Charts over months and the funnel: what was planted in the demo is found, and placed."""

import tomllib

import pandas as pd
import pytest
from scipy import stats

from cases_by_month import monthly_cases
from folders import DEMO
from lengthwise.analyse.charts import analyse_charts, most_likely_change
from lengthwise.analyse.funnels import analyse_funnels
from lengthwise.analyse.measures import Measure, by_month
from lengthwise.analyse.rows import ResultRows
from lengthwise.report.run_data import RunData
from lengthwise.settings import Settings

TRUTH = tomllib.loads((DEMO / "truth.toml").read_text(encoding="utf-8"))["dataset"]


def _estimates(measure: Measure) -> pd.DataFrame:
    rows = ResultRows()
    analyse_charts(rows, [measure], "2024-Q1", Settings())
    return pd.DataFrame(rows.estimates).set_index(["analysis", "measure"])


def test_planted_action_is_placed_in_its_month(demo_run: RunData) -> None:
    change = demo_run.one(analysis="change_point", subject="fill_short", measure="share_change")
    assert change is not None
    assert change["reference"] == TRUTH["action_month"]
    assert change["estimate"] < 0
    assert TRUTH["action_month"] in change["reason"]
    crossings = demo_run.one(analysis="B2", subject="fill_short", measure="crossings")
    assert crossings is not None
    assert crossings["estimate"] < crossings["lower"]
    assert "the share has shifted" in crossings["reason"]


def test_share_beyond_of_the_whole_practice_gives_no_signal(demo_run: RunData) -> None:
    rows = demo_run.select(subject="fill_beyond", section="process")
    assert set(rows["reason"]) == {""}


def test_funnel_signals_the_drifting_clinician_and_nobody_else(demo_run: RunData) -> None:
    rows = demo_run.select(analysis="B4", measure="share", stratum_kind="clinician")
    flagged = rows[rows["valid"] & (rows["reason"] != "")]
    assert set(flagged["stratum"]) == {TRUTH["drift_clinician"]}
    assert set(flagged["subject"]) == {"fill_within", "no_core_beyond"}
    assert rows["stratum"].nunique() == 7


def test_funnel_tail_is_the_binomial_tail_of_the_effective_counts(demo_run: RunData) -> None:
    tail = demo_run.one(
        analysis="B4", subject="fill_within", measure="tail_probability",
        stratum_kind="clinician", stratum="C03",
    )  # fmt: skip
    share = demo_run.one(
        analysis="B4", subject="fill_within", measure="share",
        stratum_kind="clinician", stratum="C03",
    )  # fmt: skip
    assert tail is not None
    assert share is not None
    met = round(share["estimate"] * tail["n_used"])
    assert tail["estimate"] == pytest.approx(
        float(stats.binom.cdf(met, tail["n_used"], share["target"])), rel=1e-9
    )
    assert tail["n_used"] < share["denominator"]


def test_too_few_months_say_so_and_draw_nothing() -> None:
    measure = Measure("fill_within", monthly_cases([(8, 10)] * 9), 0.85, True)
    rows = ResultRows()
    analyse_charts(rows, [measure], "2024-Q1", Settings())
    table = pd.DataFrame(rows.estimates)
    assert not table["valid"].any()
    assert table["reason"].str.startswith("not enough points").all()
    assert rows.points == []


def test_a_month_without_cases_is_a_gap_and_not_nought() -> None:
    cases = monthly_cases([(6, 10), (5, 10), (7, 10)])
    gap = cases[cases["month"] != "2024-02"]
    months = by_month(gap)
    assert list(months["month"]) == ["2024-01", "2024-02", "2024-03"]
    assert list(months["n"]) == [10, 0, 10]
    shares = [(6, 10)] * 6 + [(0, 0)] + [(7, 10)] * 6
    found = _estimates(Measure("x", monthly_cases(shares), None, True))
    assert found.loc[("B2", "longest_run"), "n_missing"] == 1


def test_a_common_event_is_judged_on_its_misses() -> None:
    months = by_month(monthly_cases([(19, 20)] * 8 + [(14, 20)] * 8))
    found = most_likely_change(months["met"], months["n"], "fall")
    assert found.position == 8
    assert found.p_value < 0.01
    assert most_likely_change(months["met"], months["n"], "rise").p_value > 0.5


def test_fewer_than_five_clinicians_are_not_set_side_by_side() -> None:
    cases = pd.concat(
        monthly_cases([(8, 10)] * 4).assign(clinician_id=name)
        for name in ("C01", "C02", "C03", "C04")
    )
    rows = ResultRows()
    analyse_funnels(rows, [Measure("fill_within", cases, 0.85, True)], ["2024-Q1"], Settings())
    assert [row["measure"] for row in rows.estimates] == ["peer_display"]
    assert rows.estimates[0]["reason"] == (
        "no peer display: 4 units with at least 10 cases, of at least 5"
    )
    assert rows.points == []
