"""Proportional bias, structural lines, shares, equivalence and discordance."""

import numpy as np
import pytest

from lengthwise.statistics.agreement.concordance import concordance
from lengthwise.statistics.agreement.deviation_index import deviation_index
from lengthwise.statistics.agreement.discordance import discordant_canals
from lengthwise.statistics.agreement.equivalence import paired_equivalence
from lengthwise.statistics.agreement.proportional_bias import regression_limits
from lengthwise.statistics.agreement.shares import is_within, paired_shares, share_within
from lengthwise.statistics.agreement.structural_lines import deming_line, passing_bablok_line
from lengthwise.statistics.agreement.variance_ratio import Repeats, variance_ratio_by_patient
from lengthwise.statistics.resampling import log_jackknife_bounds

RNG = np.random.default_rng(11)
TRUTH = RNG.normal(21, 2, 60)
PATIENT = np.repeat(np.arange(20), 3)
X = TRUTH + RNG.normal(0, 0.3, 60)
Y = 0.5 + 1.1 * TRUTH - 2.1 + RNG.normal(0, 0.3, 60)


def test_a_planted_slope_is_inside_its_interval() -> None:
    found = regression_limits(Y, X, patient=PATIENT)
    # Difference on mean: (1.1 - 1) / ((1.1 + 1) / 2).
    assert found.slope.lower < 0.1 / 1.05 < found.slope.upper
    low, high = found.limits_at(21.0)
    assert low < high
    assert found.robust is not None
    assert found.n_clusters == 20


def test_regression_refusals() -> None:
    assert "fewer than 10 pairs" in regression_limits(Y[:5], X[:5]).slope.reason
    few = regression_limits(Y[:12], X[:12], patient=PATIENT[:12])
    assert "fewer than 10 patients" in few.slope.reason
    same_mean = regression_limits(np.array([1.0, 2] * 6), np.array([2.0, 1] * 6))
    assert "same mean" in same_mean.slope.reason


def test_exact_lines_are_found_by_both_methods() -> None:
    x = np.arange(12.0)
    for fit in (deming_line, passing_bablok_line):
        found = fit(x, 2 * x + 1)
        assert found.slope.estimate == pytest.approx(2)
        assert found.intercept.estimate == pytest.approx(1)


def test_deming_with_a_large_ratio_approaches_least_squares() -> None:
    found = deming_line(X, Y, variance_ratio=1e8)
    assert found.slope.estimate == pytest.approx(np.polyfit(X, Y, 1)[0], rel=1e-5)
    grouped = deming_line(X, Y, patient=PATIENT)
    assert grouped.slope.lower < 1.1 < grouped.slope.upper
    with pytest.raises(ValueError, match="above 0"):
        deming_line(X, Y, variance_ratio=0)


def test_lines_are_refused_when_there_is_none() -> None:
    for fit in (deming_line, passing_bablok_line):
        assert "same length" in fit(np.ones(12), np.arange(12.0)).slope.reason
        assert "fewer than" in fit(X[:4], Y[:4]).slope.reason
    cross = deming_line(np.array([1.0, -1, 0, 0] * 3), np.array([0.0, 0, 1, -1] * 3))
    assert "not vary together" in cross.slope.reason


def test_rank_interval_is_withheld_for_repeated_patients() -> None:
    found = passing_bablok_line(X, Y, patient=PATIENT)
    assert found.slope.valid
    assert np.isnan(found.slope.lower)
    assert "not independent" in found.slope.reason
    alone = passing_bablok_line(X, Y, patient=np.arange(60))
    assert alone.slope.lower < alone.slope.estimate < alone.slope.upper


def test_variance_ratio_comes_from_replicates_by_patient() -> None:
    """Against a plain loop that leaves patients out; with refusals where there is no ratio."""
    subject = np.tile(np.arange(200), 2)
    patient = subject // 4
    base = np.tile(TRUTH[np.arange(200) % 60], 2)
    x, y = base + RNG.normal(0, 0.2, 400), base + RNG.normal(0, 0.4, 400)

    def within(values: np.ndarray, kept: np.ndarray) -> float:
        pairs = values[kept].reshape(2, -1)
        return float(np.mean((pairs[0] - pairs[1]) ** 2) / 2)

    found = variance_ratio_by_patient(
        Repeats(x, subject, patient), Repeats(y, subject, patient)
    )
    whole = np.full(400, True)
    assert found.estimate == pytest.approx(within(y, whole) / within(x, whole))
    assert found.lower < 4 < found.upper
    left = [within(y, patient != one) / within(x, patient != one) for one in range(50)]
    low, high = log_jackknife_bounds(np.array(found.estimate), np.array(left))
    assert (found.lower, found.upper) == pytest.approx((float(low), float(high)))


def test_variance_ratio_is_refused_where_there_is_none() -> None:
    subject = np.tile(np.arange(20), 2)
    good = Repeats(RNG.normal(20, 1, 40), subject, subject)
    once = Repeats(good.values[:20], subject[:20], subject[:20])
    same = Repeats(np.tile(np.arange(20.0), 2), subject, subject)
    assert "two readings" in variance_ratio_by_patient(once, good).reason
    assert "same reading" in variance_ratio_by_patient(same, good).reason
    few = Repeats(good.values, subject, subject % 2)
    assert "fewer than 3 patients" in variance_ratio_by_patient(few, few).reason


def test_share_within_is_inclusive_after_rounding() -> None:
    assert is_within([16.1 - 15.6, 0.504, 0.51, -0.5], 0.5).tolist() == [
        True,
        True,
        False,
        True,
    ]
    found = share_within(X, X, threshold_mm=0.5)
    assert found.share.estimate == 1
    few = share_within(X[:9], X[:9], threshold_mm=0.5)
    assert "fewer than 10 canals" in few.share.reason
    assert few.n_within == 9
    alone = share_within(X[:12], X[:12], threshold_mm=0.5, patient=np.zeros(12))
    assert "one patient" in alone.share.reason


def test_paired_shares_count_the_table() -> None:
    first = np.array([1, 1, 0, 0, 1, 1, 0, 1, 1, 1, np.nan])
    second = np.array([1, 0, 1, 0, 0, 1, 0, 1, 1, 0, 1])
    found = paired_shares(first, second, np.array([0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5]))
    assert found.table == (4, 3, 1, 2)
    assert found.difference.estimate == pytest.approx(0.2)
    assert found.difference.n_missing == 1
    same = paired_shares(first[:10], first[:10], np.arange(10))
    assert np.isnan(same.difference.lower)
    assert "no interval" in same.difference.reason
    assert not paired_shares(first[:5], second[:5], np.arange(5)).difference.valid


def test_equivalence_by_patient_needs_more_than_by_canal() -> None:
    y = X + 0.1 + np.repeat(RNG.normal(0, 0.3, 20), 3)
    plain = paired_equivalence(y, X, lower_margin=-0.5, upper_margin=0.5)
    grouped = paired_equivalence(y, X, lower_margin=-0.5, upper_margin=0.5, patient=PATIENT)
    assert grouped.p_upper > plain.p_upper
    assert grouped.degrees_of_freedom < 20
    with pytest.raises(ValueError, match="below"):
        paired_equivalence(y, X, lower_margin=1, upper_margin=0)
    assert not paired_equivalence(X, X, lower_margin=-1, upper_margin=1).valid


def test_concordance_falls_with_bias_while_pearson_does_not() -> None:
    near, far = concordance(X + 0.1, X), concordance(X + 3, X)
    assert near.pearson == pytest.approx(far.pearson)
    assert near.z_interval.estimate > 0.9 > far.z_interval.estimate
    grouped = concordance(Y, X, patient=PATIENT)
    assert grouped.z_interval.lower < grouped.z_interval.estimate < grouped.z_interval.upper
    assert not concordance(X, np.ones(60)).z_interval.valid
    assert not concordance(X[:5], Y[:5]).z_interval.valid


def test_deviation_index_holds_its_share() -> None:
    d = np.random.default_rng(1).normal(0.5, 1.0, 20_000)
    found = deviation_index(d, np.zeros(20_000), share=0.9, threshold=1.0)
    assert np.mean(np.abs(d) <= found.index_normal) == pytest.approx(0.9, abs=0.005)
    assert found.coverage_normal == pytest.approx(found.coverage_observed, abs=0.01)
    # One pair per patient: the jackknife bound is close to the large-sample one.
    patient = np.arange(20_000)
    robust = deviation_index(d, np.zeros(20_000), share=0.9, threshold=1.0, patient=patient)
    assert robust.coverage_lin.lower == pytest.approx(found.coverage_lin.lower, abs=0.001)
    assert robust.index_lin.upper == pytest.approx(found.index_lin.upper, rel=0.002)
    assert not deviation_index(d[:5], d[:5], share=0.9, threshold=1.0).index_lin.valid
    with pytest.raises(ValueError, match="share"):
        deviation_index(d, d, share=1.0, threshold=1.0)


def test_discordant_canals_are_strictly_above_the_threshold() -> None:
    found = discordant_canals(
        [16.1, 21.0, 20.0, np.nan],
        [15.6, 20.4, 18.9, 20.0],
        conditions={"wet": [True, True, False, True], "metal": [None, 1.0, np.nan, 1.0]},
    )
    assert found.status.tolist() == ["none", "watch", "review", "none"]
    assert found.explanations == ((), ("wet", "metal"), (), ())
    assert (found.n_watch, found.n_review, found.n_used, found.n_missing) == (1, 1, 3, 1)
    assert not found.is_assessed[3]
    with pytest.raises(ValueError, match="one entry per canal"):
        discordant_canals([1.0], [1.0], conditions={"wet": [True, False]})
    with pytest.raises(ValueError, match="watch_mm"):
        discordant_canals([1.0], [1.0], watch_mm=2.0)


def test_equivalence_is_refused_where_every_patient_has_the_same_mean_difference() -> None:
    reference = np.tile([20.0, 21.0], 20)
    method = reference + np.tile([0.5, 0.0], 20)
    found = paired_equivalence(
        method,
        reference,
        lower_margin=-0.5,
        upper_margin=0.5,
        patient=np.repeat(np.arange(20), 2),
    )
    assert not found.valid
    assert found.reason == found.bias.reason != ""
