"""New baselines: only with a dated written reason, and wired from the file to the chart."""

from pathlib import Path

import pandas as pd
import pytest

from cases_by_month import monthly_cases
from folders import folder_with
from lengthwise.analyse.baselines import checked_baselines
from lengthwise.analyse.charts import analyse_charts
from lengthwise.analyse.measures import Measure
from lengthwise.analyse.rows import ResultRows
from lengthwise.errors import SettingsError
from lengthwise.report.figures.control_chart import control_chart
from lengthwise.report.figures.run_chart import run_chart
from lengthwise.report.run_data import RunData
from lengthwise.settings import Settings, load_settings

CHANGE = {
    "chart": "fill_short", "from_month": "2025-03", "decided_on": "2025-06-30",
    "reason": "the change has lasted; agreed at the meeting",
}  # fmt: skip
# Fourteen months near 20 in 100, then fourteen near 5 in 100.
SHIFTED = [(8 + 2 * (place % 2), 40) for place in range(14)] + [
    (1 + 2 * (place % 2), 40) for place in range(14)
]


def _settings(**changed: str) -> Settings:
    item = {key: value for key, value in (CHANGE | changed).items() if value != "absent"}
    return Settings(new_baselines=(item,))


def _charted(settings: Settings) -> RunData:
    rows = ResultRows()
    measure = Measure("fill_short", monthly_cases(SHIFTED), None, False)
    analyse_charts(rows, [measure], "2024-Q1..2026-Q2", settings)
    run = {"period": "2026-Q2", "settings": settings.as_dict()}
    blank = pd.DataFrame()
    return RunData(run, pd.DataFrame(rows.estimates), pd.DataFrame(rows.points), blank, blank)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"reason": "absent"}, "reason is missing; .* only with the date of the decision and"),
        ({"reason": "  "}, "reason is missing"),
        ({"decided_on": "absent"}, "decided_on is missing"),
        ({"decided_on": "2025-Q2"}, "decided_on is a date written like 2026-05-31"),
        ({"from_month": "2025-Q2"}, "from_month is written like 2026-05"),
        ({"chart": "fill_shrt"}, "chart must be one of fill_beyond, fill_short, fill_within"),
        ({"why": "x"}, "unknown entry why"),
    ],
)
def test_a_baseline_without_date_and_reason_is_named(
    changed: dict[str, str], words: str
) -> None:
    with pytest.raises(SettingsError, match=f"actions.toml, new_baseline 1: {words}"):
        checked_baselines(_settings(**changed))


def test_one_chart_takes_one_baseline_from_one_month() -> None:
    with pytest.raises(SettingsError, match="new_baseline 2: this chart has a new baseline"):
        checked_baselines(Settings(new_baselines=(CHANGE, CHANGE)))


def test_toml_date_and_reason_reach_the_settings(tmp_path: Path) -> None:
    folder = folder_with(tmp_path / "audit", treatments="treatment_id\n")
    (folder.root / "actions.toml").write_text(
        '[[new_baseline]]\nchart = "fill_short"\nfrom_month = "2025-03"\n'
        'decided_on = 2025-06-30\nreason = "it has lasted"\n',
        encoding="utf-8",
    )
    (item,) = checked_baselines(load_settings(folder.root))
    assert item["decided_on"] == "2025-06-30"


def test_without_a_decision_the_shift_stays_a_signal() -> None:
    found = _charted(Settings())
    row = found.one(analysis="B2", subject="fill_short", measure="longest_run")
    assert row is not None
    assert row["estimate"] == 14
    assert "the share has shifted" in row["reason"]
    assert found.plotted("run_chart")["label"].nunique() == 28
    assert found.plotted("run_chart").query("series == 'median'")["y"].nunique() == 1


def test_a_decided_baseline_gives_each_stretch_its_own_median_and_limits() -> None:
    found = _charted(_settings())
    latest = found.one(analysis="B2", subject="fill_short", measure="longest_run")
    earlier = found.one(
        analysis="B2", subject="fill_short", measure="longest_run", stratum_kind="baseline",
        stratum="2024-01",
    )  # fmt: skip
    assert latest is not None
    assert earlier is not None
    assert (latest["reason"], earlier["reason"]) == ("", "")
    median = found.plotted("run_chart").query("series == 'median'")
    assert median.groupby("y")["label"].agg(["min", "max"]).to_numpy().tolist() == [
        ["2025-03", "2026-04"], ["2024-01", "2025-02"],
    ]  # fmt: skip
    limits = found.plotted("control_chart").query("series == 'p_prime_centre'")
    assert limits["y"].nunique() == 2
    said = found.one(analysis="B2", subject="fill_short", measure="new_baseline")
    assert said is not None
    assert said["reason"] == (
        "new baseline from 2025-03, decided on 2025-06-30: the change has lasted; agreed at "
        "the meeting"
    )


def test_figures_say_the_baselines_and_draw_them() -> None:
    found = _charted(_settings())
    chart = run_chart(found, "fill_short")
    assert chart is not None
    assert "decided on 2025-06-30" in chart.headline
    assert "new for each of 2 baselines" in chart.subtitle
    control = control_chart(found, "fill_short")
    assert control is not None
    control.plot.draw()


def test_a_month_outside_the_record_changes_nothing() -> None:
    plain = _charted(Settings()).estimates
    later = _charted(_settings(from_month="2027-01")).estimates
    first = _charted(_settings(from_month="2024-01")).estimates
    pd.testing.assert_frame_equal(plain, later)
    pd.testing.assert_frame_equal(plain, first)


def test_a_short_new_stretch_says_not_enough_points_and_keeps_the_picture() -> None:
    found = _charted(_settings(from_month="2026-01"))
    row = found.one(analysis="B2", subject="fill_short", measure="longest_run")
    assert row is not None
    assert row["reason"].startswith("not enough points")
    assert found.plotted("run_chart").query("series == 'share'")["y"].notna().sum() == 28
    drawn = control_chart(found, "fill_short")
    assert drawn is not None
    assert "28 months" in drawn.subtitle
    drawn.plot.draw()
