"""Each method's own error, replicates and spread."""

import numpy as np
import pytest

from lengthwise.statistics.agreement.method_ranking import method_errors
from lengthwise.statistics.agreement.replicates import (
    reading_weighted_limits,
    repeatability,
    replicate_limits_constant,
    replicate_limits_varying,
)
from lengthwise.statistics.agreement.spread_tests import paired_spread
from lengthwise.statistics.resampling import log_jackknife_bounds

NAMES = ("film", "electronic", "paper_point")


def readings(n: int, sds: tuple[float, ...], seed: int, shared: float = 0.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    truth = rng.normal(21, 1.5, n)
    table = truth[:, None] + rng.normal(size=(n, len(sds))) * np.array(sds)
    table[:, :2] += shared * rng.normal(size=n)[:, None]
    return table


def test_planted_errors_are_recovered_and_ranked() -> None:
    table = readings(3000, (0.8, 0.3, 0.5), seed=1) + np.array([0.2, 0.0, -0.2])
    found = method_errors(table, names=NAMES, draws=200)
    assert [one.standard_deviation.estimate for one in found.methods] == pytest.approx(
        [0.8, 0.3, 0.5], abs=0.04
    )
    assert [one.rank for one in found.methods] == [3, 1, 2]
    assert [one.bias.estimate for one in found.methods] == pytest.approx(
        [0.2, 0.0, -0.2], abs=0.04
    )
    assert found.methods[1].chance_most_precise > 0.99
    assert found.independence.p_value > 0.01
    for one, sd in zip(found.methods, (0.8, 0.3, 0.5), strict=True):
        assert one.standard_deviation.lower < sd < one.standard_deviation.upper


def test_close_methods_have_an_uncertain_rank() -> None:
    found = method_errors(readings(40, (0.5, 0.5, 0.5), seed=2), names=NAMES, draws=500)
    assert all(one.rank_upper > one.rank_lower for one in found.methods)
    assert sum(one.chance_most_precise for one in found.methods) == pytest.approx(1.0)


def test_shared_errors_are_found_and_named() -> None:
    table = readings(800, (0.2, 0.2, 0.4), seed=3, shared=0.6)
    found = method_errors(table, names=NAMES, draws=50)
    assert found.independence.p_value < 0.001
    assert found.independence.highest_pair == ("film", "electronic")
    assert "independent" in found.reason


def test_negative_variance_is_shown_as_zero_and_said() -> None:
    table = readings(60, (0.02, 0.3, 0.6), seed=5)
    table[:, 1] -= 0.9 * (table[:, 2] - table[:, 0])
    found = method_errors(table, names=NAMES, draws=50)
    below = [one for one in found.methods if one.is_negative]
    assert below
    assert below[0].standard_deviation.estimate == 0
    assert below[0].name in found.reason
    assert found.on_boundary
    assert sum(one.constrained_variance == 0 for one in found.methods) == 1


def test_patients_with_several_canals_widen_the_errors() -> None:
    rng = np.random.default_rng(6)
    patient = np.repeat(np.arange(40), 4)
    table = readings(160, (0.3, 0.3, 0.3), seed=7)
    table[:, 0] += np.repeat(rng.normal(0, 0.6, 40), 4)
    plain = method_errors(table, names=NAMES, draws=20)
    grouped = method_errors(table, names=NAMES, patient=patient, draws=20)
    first = (plain.methods[0], grouped.methods[0])
    assert first[0].variance == pytest.approx(first[1].variance)
    assert first[1].bias_standard_error_jackknife > first[0].bias_standard_error_jackknife
    assert grouped.n_patients == 40


def test_too_few_equal_and_missing_rows() -> None:
    table = readings(9, (0.3, 0.3, 0.3), seed=1)
    assert "fewer than 10 canals" in method_errors(table, names=NAMES).reason
    equal = np.repeat(np.linspace(18, 22, 12)[:, None], 3, axis=1)
    found = method_errors(equal, names=NAMES)
    assert not found.valid
    assert "no ranking" in found.reason
    gaps = readings(30, (0.3, 0.3, 0.3), seed=1)
    gaps[0, 1] = np.nan
    assert method_errors(gaps, names=NAMES, draws=5).n_missing == 1
    with pytest.raises(ValueError, match="at least 3"):
        method_errors(gaps[:, :2], names=NAMES[:2])


def test_repeatability_of_pairs_is_half_the_squared_difference() -> None:
    first, second = np.array([20.0, 21.0, 19.5]), np.array([20.5, 21.0, 19.0])
    values, subject = np.concatenate([first, second]), np.tile(np.arange(3), 2)
    found = repeatability(values, subject)
    expected = np.sqrt(np.mean((first - second) ** 2) / 2)
    assert found.within_subject_sd.estimate == pytest.approx(expected)
    assert found.repeatability_coefficient.estimate == pytest.approx(
        2.7718 * expected, rel=1e-4
    )
    assert not repeatability([1.0, 2.0], ["a", "b"]).within_subject_sd.valid
    assert not repeatability([1.0, 2.0], ["a", "a"]).within_subject_sd.valid


def test_single_readings_make_replicate_limits_plain() -> None:
    rng = np.random.default_rng(3)
    x, y, subject = rng.normal(size=20), rng.normal(size=20), np.arange(20)
    found = replicate_limits_constant(x, subject, y, subject)
    assert found.standard_deviation == pytest.approx(np.std(x - y, ddof=1))
    varying = replicate_limits_varying(x, y, subject)
    assert varying.standard_deviation == pytest.approx(np.std(x - y, ddof=1))
    assert np.isnan(reading_weighted_limits(x, y, subject).bias)


def test_replicate_limits_refuse_few_or_lonely_subjects() -> None:
    subject = np.arange(12)
    few = replicate_limits_varying(np.ones(9), np.ones(9), subject[:9])
    assert "fewer than 10 subjects" in few.upper.reason
    lonely = replicate_limits_constant(np.ones(12), subject, np.ones(11), subject[:11])
    assert "one method only" in lonely.upper.reason


def test_equal_spread_has_ratio_one_and_constants_are_refused() -> None:
    x = np.random.default_rng(1).normal(size=40)
    assert paired_spread(x, -x[::-1]).sd_ratio.estimate == pytest.approx(1.0)
    wide = paired_spread(3 * x, x + 0.1 * x[::-1])
    assert wide.p_value < 0.001
    assert wide.sd_ratio.lower > 1
    assert not paired_spread(x, x).valid
    assert not paired_spread(x[:2], x[1:3]).valid
    assert not paired_spread(x, np.ones(40)).valid


def test_repeats_by_patient_leave_patients_out() -> None:
    """Against a plain loop; with the same SD in every patient near the chi-square interval."""
    rng = np.random.default_rng(11)
    patient = np.repeat(np.arange(200), 4)
    subject = np.repeat(np.arange(400), 2)
    values = rng.normal(20, 2, 400)[subject] + rng.normal(0, 0.3, 800)
    plain = repeatability(values, subject).within_subject_sd
    found = repeatability(values, subject, patient=patient).within_subject_sd
    assert found.estimate == plain.estimate
    assert found.upper - found.lower == pytest.approx(plain.upper - plain.lower, rel=0.15)
    left_out = np.array(
        [
            repeatability(values[patient != one], subject[patient != one]).ms_within
            for one in range(200)
        ]
    )
    low, high = log_jackknife_bounds(np.array(found.estimate), np.sqrt(left_out))
    assert (found.lower, found.upper) == pytest.approx((float(low), float(high)))


def test_repeats_of_one_patient_only_have_a_wide_interval_from_nought() -> None:
    patient = np.repeat(np.arange(12), 2)
    values = np.repeat(np.linspace(18, 22, 12), 2)
    values[0] += 0.5
    found = repeatability(values, patient, patient=patient).within_subject_sd
    assert found.lower == 0.0
    assert found.upper > 2 * found.estimate


def test_bounds_of_own_sd_leave_patients_out() -> None:
    """Against a plain loop over patients, on the logarithm of the raised variance."""
    table, patient = readings(60, (0.3, 0.5, 0.8), seed=12), np.repeat(np.arange(30), 2)
    found = method_errors(table, names=NAMES, patient=patient, draws=5)
    rest = np.array(
        [
            [
                m.variance
                for m in method_errors(table[patient != p], names=NAMES, draws=5).methods
            ]
            for p in range(30)
        ]
    )
    own = np.array([one.variance for one in found.methods])
    raised = own.sum() / 20
    low, high = log_jackknife_bounds(own + raised, (rest + rest.sum(1)[:, None] / 20).T)
    for place, one in enumerate(found.methods):
        bounds = np.sqrt(np.maximum([low[place] - raised, high[place] - raised], 0))
        ends = (one.standard_deviation.lower, one.standard_deviation.upper)
        assert ends == pytest.approx(tuple(bounds))
