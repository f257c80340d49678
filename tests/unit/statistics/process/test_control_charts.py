"""Control charts: refusals, notes and options."""

import math

import numpy as np
import pytest

from lengthwise.statistics.process.individuals_chart import xmr_chart
from lengthwise.statistics.process.proportion_charts import laney_p_chart, p_chart, u_chart
from lengthwise.statistics.process.rare_event_charts import g_chart, t_chart

NAN = math.nan
SIZES = [50] * 12


@pytest.mark.parametrize("chart", [p_chart, laney_p_chart, u_chart])
def test_few_points_give_no_limits(chart) -> None:
    found = chart([1] * 9, [50] * 9)
    assert not found.valid
    assert "9 of at least 10" in found.reason
    assert found.values == (0.02,) * 9
    assert all(math.isnan(limit) for limit in found.upper)


@pytest.mark.parametrize("chart", [p_chart, laney_p_chart, u_chart])
def test_no_event_gives_no_limits(chart) -> None:
    found = chart([0] * 12, SIZES)
    assert not found.valid
    assert "no event" in found.reason


def test_nothing_but_events_gives_no_limits() -> None:
    assert "nothing but events" in p_chart(SIZES, SIZES).reason


def test_months_without_cases_are_missing_not_zero() -> None:
    found = p_chart([10, 0, *[12] * 11], [50, 0, *[50] * 11])
    assert (found.n_used, found.n_missing) == (12, 1)
    assert math.isnan(found.values[1])
    assert math.isnan(found.upper[1])
    assert found.outside == ()


def test_limits_stay_within_0_and_1() -> None:
    found = p_chart([1, 49] * 6, SIZES)
    assert min(found.lower) >= 0
    assert max(found.upper) <= 1
    assert found.outside == tuple(range(12))


def test_notes_stand_beside_small_and_short_charts() -> None:
    notes = p_chart([1, 2] * 6, [20] * 12).notes
    assert any("too few cases" in note for note in notes)
    assert any("provisional" in note for note in notes)
    assert p_chart([10, 12] * 10, [50] * 20).notes == ()


def test_rare_non_events_are_small_too() -> None:
    assert any("too few cases" in note for note in p_chart([19, 18] * 6, [20] * 12).notes)


def test_laney_below_1_is_stated_and_may_be_floored() -> None:
    counts = [10, 10, 11, 11, 10, 10, 11, 11, 10, 10, 11, 11]
    plain, narrow = p_chart(counts, SIZES), laney_p_chart(counts, SIZES)
    floored = laney_p_chart(counts, SIZES, floor_at_one=True)
    assert narrow.dispersion < 1
    assert narrow.upper[0] < plain.upper[0]
    assert floored.upper == plain.upper
    assert floored.dispersion == narrow.dispersion
    assert any("narrows" in note for note in narrow.notes)
    assert any("raised to 1" in note for note in floored.notes)


def test_screening_of_ranges_is_off_unless_asked_for() -> None:
    values = [0.0, 0.1] * 10 + [5.0] + [0.0, 0.1] * 3
    plain, screened = xmr_chart(values), xmr_chart(values, screen_ranges=True)
    assert screened.dispersion < plain.dispersion
    assert any("2 dropped" in note for note in screened.notes)
    assert not any("screened" in note for note in plain.notes)


def test_individuals_chart_without_spread_has_no_points_outside() -> None:
    assert xmr_chart([1.0] * 20).outside == ()


def test_individuals_chart_refuses_and_skips_gaps() -> None:
    assert not xmr_chart([]).valid
    gap = xmr_chart([1.0, NAN, *[2.0, 1.0] * 6])
    assert (gap.n_used, gap.n_missing) == (13, 1)
    assert math.isnan(gap.upper[1])


def test_two_events_on_one_day_refuse_the_t_chart() -> None:
    found = t_chart([3.0, 0.0, *[5.0] * 10])
    assert not found.valid
    assert "cases between events" in found.reason


def test_rare_event_charts_refuse_few_points() -> None:
    assert "not enough points" in g_chart([1, 2]).reason
    assert "not enough points" in t_chart([1, 2]).reason
    assert "every case was an event" in g_chart([0] * 12).reason


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: p_chart([1], [1, 2]), "length"),
        (lambda: p_chart([3], [2]), "larger"),
        (lambda: u_chart([-1], [2]), "negative"),
        (lambda: g_chart([-1]), "negative"),
        (lambda: t_chart([-1]), "negative"),
        (lambda: xmr_chart(np.ones((2, 2))), "one-dimensional"),
        (lambda: xmr_chart([1.0], range_constant=0), "positive"),
    ],
)
def test_misuse_raises(call, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
