"""Standardised risks, attributable fractions and curves over offset."""

import numpy as np
import pytest

from lengthwise.statistics.outcome.attributable import attributable_fraction
from lengthwise.statistics.outcome.dose_response import piecewise_response, spline_response
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.regression import fit_logistic, fit_regression
from lengthwise.statistics.outcome.splines import (
    knots_at_quantiles,
    piecewise_basis,
    restricted_cubic_basis,
)
from lengthwise.statistics.outcome.standardisation import designs_by_level, standardised_risks

COUNTS = {"within": (13, 103), "short": (43, 53), "beyond": (9, 108)}
LEVELS = {"within": {1: 0, 2: 0}, "short": {1: 1, 2: 0}, "beyond": {1: 0, 2: 1}}


def terauchi() -> tuple[np.ndarray, np.ndarray, list[str]]:
    """Return outcome, design and level of the counts printed in PMID 37085142."""
    y, level = [], []
    for name, (events, n) in COUNTS.items():
        y += [1.0] * events + [0.0] * (n - events)
        level += [name] * n
    labels = np.array(level)
    x = np.column_stack([np.ones(len(y)), labels == "short", labels == "beyond"])
    return np.array(y), x.astype(float), level


def test_a_saturated_model_returns_the_crude_log_odds_ratios() -> None:
    y, x, _ = terauchi()
    fit = fit_logistic(y, x, terms=("intercept", "short", "beyond"))
    assert fit.vector()[1:] == pytest.approx([3.3935, -0.4630], abs=5e-5)


def test_a_saturated_model_returns_the_crude_risks() -> None:
    y, x, level = terauchi()
    fit = fit_logistic(y, x, terms=("intercept", "short", "beyond"))
    found = standardised_risks(
        fit, designs_by_level(x, LEVELS), reference="within", design=x, level_of_row=level
    )
    for name, (events, n) in COUNTS.items():
        row = found.row(name)
        p = events / n
        assert row.risk.estimate == pytest.approx(p)
        assert row.risk_standard_error == pytest.approx(np.sqrt(p * (1 - p) / n), rel=1e-6)
    short = found.row("short")
    assert short.difference.estimate == pytest.approx(43 / 53 - 13 / 103)
    assert short.share_of_events.estimate == pytest.approx((43 - 53 * 13 / 103) / 65)
    # beyond does better than within here: the share is negative and is not clipped.
    assert found.row("beyond").share_of_events.estimate < 0


def test_the_reference_of_few_clusters_is_t() -> None:
    y, x, _ = terauchi()
    few = fit_gee(y, x, np.arange(y.size) % 40, terms=("intercept", "short", "beyond"))
    risk = standardised_risks(few, designs_by_level(x, LEVELS), reference="within").rows[0]
    assert risk.risk.upper - risk.risk.estimate == pytest.approx(
        few.critical_value() * risk.risk_standard_error
    )
    assert few.critical_value() > 1.96


def test_standardisation_misuse_raises() -> None:
    y, x, _ = terauchi()
    fit = fit_logistic(y, x, terms=("intercept", "short", "beyond"))
    designs = designs_by_level(x, LEVELS)
    with pytest.raises(ValueError):
        standardised_risks(fit, designs, reference="other")
    poisson = fit_regression(y, x, terms=fit.terms, family="poisson")
    with pytest.raises(ValueError):
        standardised_risks(poisson, designs, reference="within")


def test_attributable_fraction_of_a_table() -> None:
    y, x, _ = terauchi()
    kept = x[:, 2] == 0
    y, x = y[kept], x[kept][:, :2]
    found = attributable_fraction(
        y, x, x * [1, 0], np.arange(y.size), terms=("intercept", "short")
    )
    assert found.fraction.estimate == pytest.approx(1 - (13 / 103) / (56 / 156))
    assert found.standard_error == pytest.approx(found.standard_error_independent)
    assert found.fraction_log_scale.lower < found.fraction.estimate


def test_the_spline_is_linear_beyond_its_knots() -> None:
    knots = (-3.0, -1.5, -0.5, 1.0)
    outside = restricted_cubic_basis([1.0, 2.0, 3.0, 4.0], knots)
    assert np.diff(outside, 2, axis=0) == pytest.approx(np.zeros((2, 3)), abs=1e-9)
    below = restricted_cubic_basis([-6.0, -5.0, -4.0], knots)
    assert below[:, 1:] == pytest.approx(np.zeros((3, 2)))


def test_knots_lie_at_quantiles_of_the_known_values() -> None:
    values = np.append(np.arange(101.0), np.nan)
    assert knots_at_quantiles(values) == pytest.approx((5, 35, 65, 95))


@pytest.mark.parametrize("knots", [(0, 1), (0, 1, 1), (2, 1, 0)])
def test_spline_misuse_raises(knots: tuple[float, ...]) -> None:
    with pytest.raises(ValueError):
        restricted_cubic_basis([0.0], knots)


def test_piecewise_columns_add_up_to_the_distance() -> None:
    x = np.array([-2.0, -0.5, 0.0, 1.5])
    assert piecewise_basis(x, -0.5).sum(axis=1) == pytest.approx(x + 0.5)


def planted(n: int = 20_000) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Odds rise by exp(0.5) per mm short of 0 and by exp(0.8) per mm beyond it."""
    generator = np.random.default_rng(12)
    x = np.clip(generator.normal(-0.8, 1.2, n), -4, 3)
    predictor = -1.5 + 0.5 * np.maximum(-x, 0) + 0.8 * np.maximum(x, 0)
    y = (generator.random(n) < 1 / (1 + np.exp(-predictor))).astype(float)
    return y, x, np.arange(n) // 2


def test_planted_slopes_are_recovered() -> None:
    y, x, patient = planted()
    found = piecewise_response(y, x, cluster=patient)
    assert found.below.lower < np.exp(0.5) < found.below.upper
    assert found.above.lower < np.exp(0.8) < found.above.upper
    assert found.change_of_slope.lower < 1.3 < found.change_of_slope.upper


def test_the_curve_is_one_at_its_reference_and_bends() -> None:
    y, x, patient = planted()
    found = spline_response(y, x, at=[-2.0, 0.0, 1.0], cluster=patient)
    middle = found.curve[1].odds_ratio
    assert (middle.estimate, middle.lower, middle.upper) == pytest.approx((1, 1, 1))
    assert found.nonlinearity_p < 1e-6
    assert found.nonlinearity_degrees == 2
    assert found.curve[0].odds_ratio.lower > 1
