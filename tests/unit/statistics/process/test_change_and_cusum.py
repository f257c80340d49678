"""Period change, sustained change, CUSUM, recall, heaping and paired differences."""

import math

import numpy as np
import pytest

from lengthwise.statistics.process.cusum import cusum_weights, risk_adjusted_cusum
from lengthwise.statistics.process.cusum_threshold import cusum_threshold, simulated_run_length
from lengthwise.statistics.process.differences import newcombe_difference, newcombe_paired
from lengthwise.statistics.process.heaping import heaping, tenths_counts
from lengthwise.statistics.process.period_change import period_change, sustained_change
from lengthwise.statistics.process.recall import recall_rate

PATIENTS = np.tile(np.arange(20), 2)
AFTER = np.repeat([False, True], 20)
Z_SQUARED = 3.8414588206941236
WILSON_GAP = Z_SQUARED / (20 + Z_SQUARED)


def test_small_periods_and_few_patients_are_refused() -> None:
    few = period_change([1, 0] * 12, [False] * 15 + [True] * 9, np.arange(24))
    assert "9 cases after" in few.change.reason
    assert (few.n_before, few.n_after) == (15, 9)
    alike = period_change([1, 0] * 12, [False] * 12 + [True] * 12, np.arange(24) % 9)
    assert "9 patients" in alike.change.reason
    assert math.isnan(alike.before)


@pytest.mark.parametrize(
    ("before", "after", "bounds"),
    [(0, 0, (-WILSON_GAP, WILSON_GAP)), (0, 1, (1 - 2**0.5 * WILSON_GAP, 1.0))],
)
def test_periods_without_spread_fall_back_to_newcombe(
    before: int, after: int, bounds: tuple[float, float]
) -> None:
    # Newcombe 1998, method 10, worked by hand from the Wilson limit n / (n + z^2).
    found = period_change(np.where(AFTER, after, before), AFTER, PATIENTS).change
    assert found.valid
    assert "independent" in found.reason
    assert (found.lower, found.upper) == pytest.approx(bounds, abs=1e-9)


def test_missing_outcomes_are_counted() -> None:
    outcome = np.tile([1.0, 0.0], 20)
    outcome[:3] = math.nan
    assert period_change(outcome, AFTER, PATIENTS).change.n_missing == 3


def test_the_same_patients_in_both_periods_narrow_the_interval() -> None:
    habit = np.tile(np.arange(20) < 10, 2).astype(float)
    habit[[20, 21]] = 0
    paired = period_change(habit, AFTER, PATIENTS).change
    apart = period_change(habit, AFTER, np.arange(40)).change
    assert paired.estimate == pytest.approx(-0.1)
    assert paired.upper - paired.lower < apart.upper - apart.lower


@pytest.mark.parametrize("variance", ["HC1", "CR3"])
def test_other_variances_raise(variance: str) -> None:
    with pytest.raises(ValueError, match="variance"):
        period_change([1], [True], [1], variance=variance)


BEFORE = [1.0, 2.0] * 6


@pytest.mark.parametrize(
    ("after", "verdict"),
    [
        ([3.0] * 7, "too early to say"),
        ([3.0] * 8, "sustained"),
        ([3.0] * 7 + [1.0], "not sustained"),
        ([], "too early to say"),
    ],
)
def test_a_sustained_change_needs_a_strictly_longer_latest_run(
    after: list[float], verdict: str
) -> None:
    found = sustained_change(BEFORE, after, higher_is_wanted=True)
    assert found.verdict == verdict
    assert found.baseline_median == 1.5


def test_the_wanted_side_may_be_below() -> None:
    found = sustained_change(BEFORE, [0.0] * 9, higher_is_wanted=False)
    assert found.verdict == "sustained"
    assert sustained_change([1.0], [2.0], higher_is_wanted=True).reason


def test_cusum_refuses_no_cases_and_misuse() -> None:
    assert not risk_adjusted_cusum([], [], odds_ratio=2, threshold=1).valid
    with pytest.raises(ValueError, match="risk"):
        cusum_weights([0.0], 2)
    with pytest.raises(ValueError, match="odds"):
        cusum_weights([0.1], 0)
    with pytest.raises(ValueError, match="threshold"):
        risk_adjusted_cusum([1], [0.1], odds_ratio=2, threshold=0)


def test_cusum_without_events_stays_at_zero() -> None:
    chart = risk_adjusted_cusum([0, math.nan, 0], [0.1] * 3, odds_ratio=2, threshold=1)
    assert chart.score == (0.0, 0.0)
    assert (chart.first_signal, chart.n_missing) == (None, 1)


def test_threshold_reaches_the_wanted_run_length() -> None:
    risk = np.linspace(0.05, 0.25, 30)
    found = cusum_threshold(risk, run_length=200, odds_ratio=2, seed=5)
    assert found.valid
    assert found.mean == pytest.approx(200, rel=0.08)
    assert found.mean_after_change < 60
    again = cusum_threshold(risk, run_length=200, odds_ratio=2, seed=5)
    assert again == found


def test_threshold_refusals() -> None:
    assert (
        "fewer than 10" in cusum_threshold([0.1], run_length=100, odds_ratio=2, seed=1).reason
    )
    stuck = simulated_run_length([0.1], threshold=9, odds_ratio=2, runs=20, seed=1, longest=50)
    assert "no signal within 50" in stuck.reason
    with pytest.raises(ValueError, match="run_length"):
        cusum_threshold([0.1] * 20, run_length=5, odds_ratio=2, seed=1)


def test_recall_of_few_teeth_gives_counts() -> None:
    found = recall_rate(treated=12, discontinued=3, examined=4, extracted=1)
    assert not found.valid
    assert "5 of 9" in found.reason
    with pytest.raises(ValueError, match="exceed"):
        recall_rate(treated=10, discontinued=0, examined=9, extracted=2)


def test_heaping_on_half_millimetres() -> None:
    readings = [20.0, 20.5, 21.0, 21.5] * 20 + [20.2, 20.8] * 5
    found = heaping(readings)
    assert found.half_step.estimate == pytest.approx(80 / 90)
    assert found.half_step_p < 1e-12
    assert "chi-square" in found.digit_test
    assert found.digit_statistic == pytest.approx((2 * 40**2 + 2 * 5**2) / 9 - 90)


def test_even_digits_show_no_preference() -> None:
    found = heaping(np.arange(200, 300) / 10)
    assert found.digit_counts == (10,) * 10
    assert (found.digit_statistic, found.digit_p, found.half_step_p) == (0, 1, 1)


def test_few_readings_take_the_simulated_test() -> None:
    found = heaping([20.0] * 10 + [20.3] * 5)
    assert "simulated" in found.digit_test
    assert found.digit_p == 1e-4
    assert "fewer than 10" in heaping([20.0] * 9 + [math.nan]).reason


def test_tenths_survive_binary_fractions() -> None:
    assert tenths_counts([20.3, 20.7, 0.3 - 0.1, -0.5]).tolist() == [
        0,
        0,
        1,
        1,
        0,
        1,
        0,
        1,
        0,
        0,
    ]


def test_binomial_p_of_half_steps() -> None:
    # R 4.2.2: binom.test(14, 20, 0.2)$p.value
    found = heaping([20.5] * 14 + [20.1] * 6)
    assert found.half_step_p == pytest.approx(1.845005721e-06, rel=1e-8)


def test_differences_without_cases_are_refused() -> None:
    assert not newcombe_difference(0, 0, 1, 5).valid
    assert not newcombe_paired(0, 0, 0, 0).valid
    with pytest.raises(ValueError):
        newcombe_difference(3, 2, 0, 1)
    with pytest.raises(ValueError):
        newcombe_paired(-1, 0, 0, 1)
