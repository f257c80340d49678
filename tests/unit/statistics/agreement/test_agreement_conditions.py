"""Bias and spread by condition."""

import numpy as np
import pandas as pd
import pytest

from lengthwise.statistics.agreement.conditions import condition_effects, trend_effect
from lengthwise.statistics.agreement.log_variance import log_variance_model
from lengthwise.statistics.agreement.spread_ratio import spread_ratio

N = 600
RNG = np.random.default_rng(21)
PATIENT = np.repeat(np.arange(N // 3), 3)
WET = RNG.random(N) < 0.4
MOLAR = RNG.random(N) < np.where(WET, 0.7, 0.3)
NOISE = np.where(WET, 0.6, 0.3) * RNG.normal(size=N)
DIFFERENCE = 0.1 + 0.3 * WET + 0.4 * MOLAR + NOISE + 0.1 * RNG.normal(size=N // 3)[PATIENT]
STATE = np.where(WET, "wet", "dry")


def test_planted_condition_is_recovered_when_adjusted() -> None:
    found = condition_effects(
        DIFFERENCE,
        np.zeros(N),
        STATE,
        patient=PATIENT,
        reference_level="dry",
        covariates=pd.DataFrame({"tooth": np.where(MOLAR, "molar", "other")}),
    )
    dry, wet = found.levels
    assert dry.level == "dry"
    assert dry.n_canals + wet.n_canals == N
    assert not dry.bias_crude_mm.valid
    # Molars are more often wet: the crude contrast mixes the two, the adjusted one does not.
    assert wet.bias_adjusted_mm.lower < 0.3 < wet.bias_adjusted_mm.upper
    assert wet.bias_crude_mm.estimate > wet.bias_adjusted_mm.estimate
    planted = np.sqrt(0.6**2 + 0.01) / np.sqrt(0.3**2 + 0.01)
    assert wet.sd_ratio_adjusted.lower < planted < wet.sd_ratio_adjusted.upper


def test_small_levels_are_described_not_tested() -> None:
    state = STATE.astype(object)
    state[:9] = "bleeding"
    state[9] = None
    found = condition_effects(
        DIFFERENCE, np.zeros(N), state, patient=PATIENT, reference_level="dry"
    )
    small = next(one for one in found.levels if one.level == "bleeding")
    assert small.n_canals == 9
    assert np.isfinite(small.mean_difference_mm)
    assert "described, not tested" in small.bias_crude_mm.reason
    assert found.n_missing == 1
    assert next(one for one in found.levels if one.level == "wet").bias_crude_mm.valid


def test_absent_reference_is_said() -> None:
    found = condition_effects(
        DIFFERENCE, np.zeros(N), STATE, patient=PATIENT, reference_level="never"
    )
    assert found.levels[0].n_canals == 0
    assert "reference level" in found.levels[1].bias_crude_mm.reason


def test_planted_trend_is_recovered() -> None:
    months = RNG.uniform(0, 10, N)
    y = 0.05 * months + np.exp(0.1 * months) * 0.2 * RNG.normal(size=N)
    found = trend_effect(y, np.zeros(N), months, patient=PATIENT)
    assert found.bias_crude_mm.lower < 0.05 < found.bias_crude_mm.upper
    assert found.sd_ratio_crude.lower < np.exp(0.1) < found.sd_ratio_crude.upper
    few = trend_effect(y[:5], np.zeros(5), months[:5], patient=PATIENT[:5])
    assert "described" in few.bias_crude_mm.reason


def test_spread_model_without_predictors_is_the_ordinary_variance() -> None:
    ones = np.ones((N, 1))
    ml = log_variance_model(DIFFERENCE, ones, ones)
    assert np.exp(ml.variance_coefficients[0]) == pytest.approx(DIFFERENCE.var())
    reml = log_variance_model(DIFFERENCE, ones, ones, restricted=True)
    assert np.exp(reml.variance_coefficients[0]) == pytest.approx(DIFFERENCE.var(ddof=1))


def test_ratios_of_sds_leave_patients_out() -> None:
    """One step for each patient is near a new fit without that patient, the plain way."""
    rng = np.random.default_rng(4)
    patient = np.repeat(np.arange(40), 3)
    design = np.column_stack([np.ones(120), rng.random(120) < 0.4]).astype(float)
    y = rng.exponential(1.0, 120) * np.where(design[:, 1] > 0, 0.6, 0.4)
    found = log_variance_model(y, design, design, patient=patient)
    fits = [
        log_variance_model(y[patient != one], design[patient != one], design[patient != one])
        for one in range(40)
    ]
    left_out = np.array([fit.variance_coefficients for fit in fits])
    spread = np.sqrt(39 / 40 * np.sum((left_out - left_out.mean(axis=0)) ** 2, axis=0))
    assert found.variance_se_jackknife == pytest.approx(spread, rel=0.15)
    assert np.all(found.variance_se_jackknife > found.variance_se_cr1)
    wide, narrow = found.sd_ratio(1), found.sd_ratio(1, errors="cr1")
    assert wide.upper / wide.lower > narrow.upper / narrow.lower


def test_spread_model_refusals() -> None:
    ones = np.ones((12, 1))
    assert "no variation" in log_variance_model(np.ones(12), ones, ones).reason
    double = np.ones((12, 2))
    assert "told apart" in log_variance_model(np.arange(12.0), double, ones).reason
    assert "fewer rows" in log_variance_model(np.arange(2.0), ones[:2], ones[:2]).reason
    one = log_variance_model(np.arange(12.0), ones, ones, patient=np.zeros(12))
    assert "one patient" in one.reason
    assert not one.sd_ratio(0).valid
    flat = np.repeat([0.0, 1.0], 10)
    y = np.where(flat == 1, 5.0, np.arange(20.0))
    design = np.column_stack([np.ones(20), flat])
    assert not log_variance_model(y, design, design).valid
    with pytest.raises(ValueError, match="maximum likelihood only"):
        log_variance_model(y, design, design, patient=np.arange(20), restricted=True)


def test_two_groups_have_the_ratio_of_their_sds() -> None:
    design = np.column_stack([np.ones(N), WET]).astype(float)
    found = spread_ratio(DIFFERENCE, design, WET)
    expected = DIFFERENCE[WET].std(ddof=1) / DIFFERENCE[~WET].std(ddof=1)
    assert found.profile.estimate == pytest.approx(expected, rel=1e-6)
    assert found.profile.lower < expected < found.profile.upper
    assert found.p_value < 1e-6
    small = spread_ratio(DIFFERENCE, design, np.arange(N) < 5)
    assert "fewer than 10" in small.profile.reason
