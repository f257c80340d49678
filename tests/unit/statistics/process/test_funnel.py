"""Funnel and overdispersion: refusals and edges."""

import math

import numpy as np
import pytest

from lengthwise.statistics.process.funnel import funnel, funnel_limits
from lengthwise.statistics.process.overdispersion import funnel_overdispersion, widened_limits


def test_four_clinicians_with_enough_cases_are_not_shown_together() -> None:
    found = funnel([2, 3, 4, 5, 1], [20, 20, 20, 20, 9], target=0.1)
    assert not found.valid
    assert "4 units with at least 10 cases, of at least 5" in found.reason


def test_a_unit_below_ten_cases_shows_counts_and_no_flag() -> None:
    point = funnel([9], [9], target=0.1).points[0]
    assert not point.valid
    assert math.isnan(point.share)
    assert point.flag == "not judged"
    assert "9 of 9" in point.reason


def test_units_keep_the_order_given() -> None:
    found = funnel([9, 0, 5, 1, 2], [30] * 5, target=0.1)
    assert [point.events for point in found.points] == [9, 0, 5, 1, 2]
    assert found.valid
    assert found.points[0].flag == "above 95 %"
    assert found.points[1].flag == "no signal"


@pytest.mark.parametrize(
    ("events", "flag"), [(0, "below 99.8 %"), (100, "above 99.8 %"), (4, "below 95 %")]
)
def test_flags_on_both_sides(events: int, flag: str) -> None:
    assert funnel([events], [100], target=0.1).points[0].flag == flag


def test_no_units() -> None:
    found = funnel([], [], target=0.1)
    assert found.points == ()
    assert not found.valid


def test_limits_never_leave_0_and_1() -> None:
    limits = funnel_limits(np.arange(1, 200), 0.97)
    assert max(limits.upper_998) <= 1
    assert min(limits.lower_998) >= 0


@pytest.mark.parametrize("target", [0.0, 1.0])
def test_a_target_of_0_or_1_raises(target: float) -> None:
    with pytest.raises(ValueError, match="target"):
        funnel_limits([10], target)


@pytest.mark.parametrize(
    ("events", "cases"), [([3], [2]), ([-1], [2]), ([1.5], [2]), ([1], [])]
)
def test_impossible_counts_raise(events: list, cases: list) -> None:
    with pytest.raises(ValueError):
        funnel(events, cases, target=0.1)


def test_nine_units_are_not_widened() -> None:
    found = funnel_overdispersion([3] * 9, [30] * 9)
    assert not found.valid
    assert "9 units, fewer than 10" in found.reason
    with pytest.raises(ValueError, match="9 units"):
        widened_limits([30], found)


@pytest.mark.parametrize("events", [0, 30])
def test_all_or_nothing_is_refused(events: int) -> None:
    found = funnel_overdispersion([events] * 12, [30] * 12)
    assert not found.valid
    assert found.reason


def test_units_at_0_or_100_per_cent_keep_a_finite_weight() -> None:
    found = funnel_overdispersion([0, 30] * 6, [30] * 12, target=0.3, scale="proportion")
    assert found.valid
    assert math.isfinite(found.tau_squared)


def test_units_without_cases_are_set_aside() -> None:
    found = funnel_overdispersion([3] * 12 + [0], [30] * 12 + [0])
    assert (found.n_used, found.n_missing) == (12, 1)
    assert found.tau_squared == 0


def test_unknown_options_raise() -> None:
    with pytest.raises(ValueError, match="scale"):
        funnel_overdispersion([1], [2], scale="log")
    found = funnel_overdispersion([3, 9] * 6, [30] * 12)
    with pytest.raises(ValueError, match="kind"):
        widened_limits([30], found, kind="other")
