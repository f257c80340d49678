"""Awkward data against R 4.2.2; calls in scripts/process_cross_check.R (metafor 3.8-1)."""

import numpy as np
import pytest

from lengthwise.statistics.process.observed_expected import exact_ratio
from lengthwise.statistics.process.shrinkage_beta import beta_binomial_shrinkage
from lengthwise.statistics.process.shrinkage_logit import logit_normal_shrinkage
from lengthwise.statistics.random_effects import random_effects

ESTIMATES = [0.90, -0.30, 0.15, 1.60, 0.05, -0.80]
VARIANCES = [0.50, 0.010, 0.20, 0.90, 0.030, 0.0020]
EVENTS, CASES = [0, 1, 0, 14, 3, 40, 2, 0], [3, 5, 1, 20, 60, 75, 2, 11]


@pytest.mark.parametrize(
    ("interval", "error", "lower", "upper", "new_lower", "new_upper", "p_value"),
    [
        # rma(y, v, method = "REML", test = "adhoc")
        ("hartung-knapp-modified", 0.2821584559, -0.7908817209, 0.6597410822,
         -1.589971932, 1.458831293, 0.8254489414),
        # rma(y, v, method = "REML", test = "z")
        ("wald", 0.2601863427, -0.5755261803, 0.4443855416,
         -1.208002428, 1.076861789, 0.8010310791),
    ],
)  # fmt: skip
def test_random_effects_by_reml(
    interval: str, error: float, lower: float, upper: float,
    new_lower: float, new_upper: float, p_value: float,
) -> None:  # fmt: skip
    found = random_effects(ESTIMATES, VARIANCES, interval=interval)
    assert found.pooled.estimate == pytest.approx(-0.06557031936, rel=1e-7)
    assert found.standard_error == pytest.approx(error, rel=1e-7)
    assert found.pooled.lower == pytest.approx(lower, rel=1e-7)
    assert found.pooled.upper == pytest.approx(upper, rel=1e-7)
    assert found.prediction.lower == pytest.approx(new_lower, rel=1e-7)
    assert found.prediction.upper == pytest.approx(new_upper, rel=1e-7)
    assert found.p_value == pytest.approx(p_value, rel=1e-7)
    assert found.i_squared == pytest.approx(0.9272739121, rel=1e-7)


def test_variance_between_sites_with_its_q_profile() -> None:
    found = random_effects(ESTIMATES, VARIANCES).tau_squared
    assert found.estimate == pytest.approx(0.2720570988, rel=1e-7)
    assert found.lower == pytest.approx(0.05621698619, rel=1e-7)
    assert found.upper == pytest.approx(3.977796946, rel=1e-7)


@pytest.mark.parametrize(
    ("estimator", "estimate", "error", "tau_squared"),
    [
        ("DL", -0.1043553031, 0.2719130399, 0.2064844297),
        ("ML", -0.1217501748, 0.2672016401, 0.1822298363),
        ("PM", -0.02507342498, 0.2924212102, 0.3629017887),
    ],
)
def test_other_estimators(
    estimator: str, estimate: float, error: float, tau_squared: float
) -> None:
    found = random_effects(ESTIMATES, VARIANCES, estimator=estimator)
    assert found.tau_squared.estimate == pytest.approx(tau_squared, rel=1e-6)
    assert found.pooled.estimate == pytest.approx(estimate, rel=1e-6)
    assert found.standard_error == pytest.approx(error, rel=1e-6)


def test_beta_binomial_of_unequal_units() -> None:
    found = beta_binomial_shrinkage(EVENTS, CASES)
    assert found.alpha == pytest.approx(0.5213882912, rel=1e-6)
    assert found.beta == pytest.approx(1.187253689, rel=1e-6)
    assert found.log_likelihood == pytest.approx(-17.38323255, rel=1e-9)


def test_logit_normal_of_unequal_units() -> None:
    # The script integrates to 1e-12; 25 quadrature points differ by 2e-9 in log-likelihood.
    found = logit_normal_shrinkage(EVENTS, CASES, np.arange(8))
    assert found.mean == pytest.approx(-1.384150896, rel=1e-6)
    assert found.standard_deviation == pytest.approx(2.050817953, rel=1e-6)
    assert found.log_likelihood == pytest.approx(-17.32620103, rel=1e-8)


def test_exact_ratio() -> None:
    # poisson.test(7, 4.25)
    found = exact_ratio(7, 4.25, cases=50)
    assert found.lower == pytest.approx(0.6622030709, rel=1e-9)
    assert found.upper == pytest.approx(3.393570673, rel=1e-9)


def test_pooled_moments_and_three_sites() -> None:
    # Cochrane Handbook, section 6.5.2 (formula); StatsToDo prints fixed 12.6299 and random
    # 11.8975 (SE 1.8885); Knapp and Hartung 2003, doi:10.1002/sim.1482, for the t interval.
    n, mean, sd = np.array([10, 20, 15]), np.array([11.8, 15.3, 8.4]), np.array([2.4, 3.2, 4.1])
    wald = random_effects(mean, sd**2 / n, estimator="DL", interval="wald")
    assert wald.q == pytest.approx(31.086, abs=5e-4)
    assert wald.tau_squared.estimate == pytest.approx(9.970, abs=5e-4)
    assert wald.pooled.estimate == pytest.approx(11.8975, abs=5e-5)
    assert wald.standard_error == pytest.approx(1.8885, abs=5e-5)
    assert (round(wald.pooled.lower, 2), round(wald.pooled.upper, 2)) == (8.20, 15.60)
    knapp = random_effects(mean, sd**2 / n, estimator="DL", interval="hartung-knapp").pooled
    assert (round(knapp.lower, 2), round(knapp.upper, 2)) == (3.36, 20.44)
