"""Run chart: too few points, points on the median, new baselines."""

import math
from datetime import date

import pytest

from lengthwise.statistics.process.run_chart import (
    NewBaseline,
    longest_run_and_crossings,
    run_chart,
    run_chart_limits,
)


def test_nine_points_are_not_enough() -> None:
    chart = run_chart([1.0, 2.0] * 4 + [3.0])
    assert not chart.segments[0].valid
    assert "not enough points" in chart.segments[0].reason
    assert not chart.signal


@pytest.mark.parametrize("values", [[], [math.nan, math.nan], [5.0] * 15])
def test_nothing_useful_to_count(values: list[float]) -> None:
    chart = run_chart(values)
    assert chart.segments[0].useful_points == 0
    assert "not enough points" in chart.segments[0].reason


def test_points_on_the_median_neither_break_nor_lengthen_a_run() -> None:
    assert longest_run_and_crossings([1, 1, 0, 1, -1, 0, -1], 0) == (5, 3, 1)


def test_missing_months_are_left_out_and_counted() -> None:
    chart = run_chart([1.0, math.nan, 2.0])
    assert (chart.n_used, chart.n_missing) == (2, 1)


@pytest.mark.parametrize(
    ("decided_on", "reason"), [(None, "new film holders"), (date(2026, 3, 1), "  ")]
)
def test_a_new_baseline_needs_a_date_and_a_reason(decided_on: date | None, reason: str) -> None:
    chart = run_chart([1.0, 2.0] * 12, new_baselines=[NewBaseline(12, decided_on, reason)])
    assert not chart.valid
    assert chart.segments == ()
    assert "written reason" in chart.reason


def test_a_new_baseline_has_its_own_median() -> None:
    change = NewBaseline(12, date(2026, 3, 1), "new film holders")
    chart = run_chart([1.0, 2.0] * 6 + [5.0, 6.0] * 6, new_baselines=[change])
    assert [part.median for part in chart.segments] == [1.5, 5.5]
    assert not chart.signal
    assert run_chart([1.0, 2.0] * 6 + [5.0, 6.0] * 6).signal


@pytest.mark.parametrize("position", [0, 24, 30])
def test_a_baseline_outside_the_points_raises(position: int) -> None:
    change = NewBaseline(position, date(2026, 3, 1), "why")
    with pytest.raises(ValueError, match="inside the points"):
        run_chart([1.0, 2.0] * 12, new_baselines=[change])


def test_limits_need_two_points() -> None:
    with pytest.raises(ValueError, match="two"):
        run_chart_limits(1)
