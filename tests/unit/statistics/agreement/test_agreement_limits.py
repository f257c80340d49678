"""Limits of agreement for independent pairs."""

import math

import numpy as np
import pytest

from lengthwise.statistics.agreement.limits import limits_of_agreement, percentile_limits
from lengthwise.statistics.agreement.tolerance_factors import (
    one_limit_factors,
    pair_factors,
    two_sided_factor,
)

RNG = np.random.default_rng(7)
REFERENCE = RNG.normal(21, 1.5, 30)
METHOD = REFERENCE + RNG.normal(0.2, 0.4, 30)


def test_bias_and_limits_are_mean_and_sd_of_the_differences() -> None:
    found = limits_of_agreement([1.0, 2.0, 4.0], [0.0, 0.0, 0.0], minimum_pairs=2, multiplier=2)
    assert found.bias.estimate == pytest.approx(7 / 3)
    assert found.standard_deviation == pytest.approx(math.sqrt(7 / 3))
    assert found.upper.estimate == pytest.approx(7 / 3 + 2 * math.sqrt(7 / 3))


@pytest.mark.parametrize(
    "interval", ["exact", "exact_one_limit", "approximate_1999", "approximate_1986"]
)
def test_every_interval_holds_its_limit(interval: str) -> None:
    found = limits_of_agreement(METHOD, REFERENCE, interval=interval)
    for one in (found.lower, found.upper):
        assert one.lower < one.estimate < one.upper
        assert interval in one.method


def test_missing_pairs_are_counted_not_used() -> None:
    method = np.append(METHOD, [np.nan, 20.0])
    reference = np.append(REFERENCE, [20.0, np.nan])
    found = limits_of_agreement(method, reference)
    assert (found.bias.n_used, found.bias.n_missing) == (30, 2)
    assert found.bias.estimate == limits_of_agreement(METHOD, REFERENCE).bias.estimate


def test_fewer_than_ten_pairs_give_a_reason_instead_of_numbers() -> None:
    found = limits_of_agreement(METHOD[:9], REFERENCE[:9])
    for one in (found.bias, found.lower, found.upper):
        assert not one.valid
        assert one.reason == "fewer than 10 pairs (9)"
        assert math.isnan(one.estimate)


def test_fewer_than_twenty_pairs_carry_a_warning() -> None:
    assert "uncertain" in limits_of_agreement(METHOD[:19], REFERENCE[:19]).upper.reason
    assert limits_of_agreement(METHOD[:20], REFERENCE[:20]).bias.reason == ""


def test_exact_limits_say_what_skew_does_to_them() -> None:
    draw = np.random.default_rng(4)
    normal, skewed, zero = draw.normal(size=100), draw.gamma(4, size=100), np.zeros(100)
    assert limits_of_agreement(normal, zero).upper.reason == ""
    assert "81 to 84 of 100" in limits_of_agreement(skewed, zero).upper.reason
    # Fewer pairs do not show their skew: it is said in any case.
    assert "81 to 84 of 100" in limits_of_agreement(normal[:99], zero[:99]).upper.reason
    approximate = limits_of_agreement(skewed, zero, interval="approximate_1999")
    assert approximate.upper.reason == ""


@pytest.mark.parametrize("n", [0, 1])
def test_no_pairs_and_one_pair_are_refused(n: int) -> None:
    found = limits_of_agreement(METHOD[:n], REFERENCE[:n], minimum_pairs=1)
    assert not found.upper.valid


def test_unknown_interval_and_unequal_lengths_are_misuse() -> None:
    with pytest.raises(ValueError, match="interval must be one of"):
        limits_of_agreement(METHOD, REFERENCE, interval="guess")
    with pytest.raises(ValueError, match="must be alike"):
        limits_of_agreement(METHOD, REFERENCE[:-1])


def test_pair_factors_match_the_printed_table() -> None:
    # Carkeet A. Optom Vis Sci 2015;92:e71-80, 10.1097/OPX.0000000000000513: nu = 16 and 29.
    assert pair_factors(17) == pytest.approx((1.4900, 3.0824), abs=5e-5)
    assert pair_factors(30) == pytest.approx((1.5808, 2.6854), abs=5e-5)


def test_factors_close_in_on_the_normal_quantile() -> None:
    for factors in (pair_factors(100_000), one_limit_factors(100_000)):
        assert factors == pytest.approx((1.96, 1.96), abs=0.02)
    with pytest.raises(ValueError, match="at least 2"):
        two_sided_factor(1, coverage=0.95, confidence=0.5)


def test_tolerance_factor_holds_its_confidence_in_simulation() -> None:
    samples = np.random.default_rng(3).normal(size=(40_000, 12))
    k = two_sided_factor(12, coverage=0.95, confidence=0.9)
    from scipy import stats

    mean, sd = samples.mean(axis=1), samples.std(axis=1, ddof=1)
    content = stats.norm.cdf(mean + k * sd) - stats.norm.cdf(mean - k * sd)
    assert np.mean(content >= 0.95) == pytest.approx(0.9, abs=0.006)


def test_percentile_limits_follow_the_rule_asked_for() -> None:
    linear = percentile_limits(METHOD, REFERENCE, probabilities=(0.5,))
    assert linear.quantiles[0] == pytest.approx(np.median(METHOD - REFERENCE))
    few = percentile_limits(METHOD[:3], REFERENCE[:3])
    assert not few.valid
    assert np.isnan(few.quantiles).all()
    with pytest.raises(ValueError, match="rule"):
        percentile_limits(METHOD, REFERENCE, rule="other")
