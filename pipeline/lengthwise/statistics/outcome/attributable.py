"""Share of not-healed teeth associated with an exposure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.outcome.model_fit import critical_value
from lengthwise.statistics.outcome.regression import fit_regression
from lengthwise.statistics.outcome.rows import prepare_rows
from lengthwise.statistics.results import NAN, Estimate, refused

METHOD = "attributable fraction from a logistic model, cluster-robust"


@dataclass(frozen=True, slots=True)
class AttributableFraction:
    """Attributable fraction with two intervals.

    Attributes
    ----------
    fraction : Estimate
        1 - expected share without the exposure / observed share; may be negative.
    fraction_log_scale : Estimate
        The same with its interval on the scale of log(1 - fraction).
    observed_share, expected_share : float
    standard_error, standard_error_independent : float
        Clustered on the patient, and with every row its own cluster.
    """

    fraction: Estimate
    fraction_log_scale: Estimate
    observed_share: float
    expected_share: float
    standard_error: float
    standard_error_independent: float


def attributable_fraction(
    outcome: ArrayLike,
    design: ArrayLike,
    unexposed_design: ArrayLike,
    cluster: ArrayLike,
    *,
    terms: Sequence[str],
    level: float = 0.95,
) -> AttributableFraction:
    """Return the share of events associated with the exposure.

    Parameters
    ----------
    outcome : array of shape (n,)
        0 or 1.
    design, unexposed_design : array of shape (n, p)
        As observed, and with the exposure set to its reference in all rows.
    cluster : array of shape (n,)
        Patient of each row.
    terms : sequence of str
        Names of the p columns.
    level : float
        Confidence level, 0-1.

    Notes
    -----
    Stacked estimating equations for coefficients, observed and expected share, summed by
    cluster, factor G/(G-1). An association, not what would happen on removal. Sources:
    Greenland & Drescher 1993, 10.2307/2532206; Dahlqwist and others 2016,
    10.1007/s10654-016-0137-7.
    """
    both = np.hstack([np.asarray(design, float), np.asarray(unexposed_design, float)])
    rows = prepare_rows(outcome, both, cluster=cluster)
    width = rows.columns.shape[0] // 2
    x, x0 = rows.columns[:width].T, rows.columns[width:].T
    fit = fit_regression(rows.y, x, terms=terms, cluster=rows.codes, level=level)
    if not fit.valid:
        nothing = refused(
            fit.reason,
            method=METHOD,
            n_used=rows.n_used,
            n_missing=rows.n_missing,
            level=level,
        )
        return AttributableFraction(nothing, nothing, NAN, NAN, NAN, NAN)
    beta = fit.vector()
    observed, expected = float(rows.y.mean()), float(expit(x0 @ beta).mean())
    influence = _influence(rows.y, x, x0, beta, observed, expected)
    sums = np.asarray(np.bincount(rows.codes, weights=influence), dtype=float)
    error = _error(sums)
    value = 1.0 - expected / observed
    z = critical_value(level, math.inf)
    counts = (level, rows.n_used, rows.n_missing)
    plain = Estimate(value, value - z * error, value + z * error, *counts, METHOD)
    factor = math.exp(z * error / (1 - value))
    logged = Estimate(
        value, 1 - (1 - value) * factor, 1 - (1 - value) / factor, *counts,
        METHOD + ", log scale",
    )  # fmt: skip
    return AttributableFraction(plain, logged, observed, expected, error, _error(influence))


def _influence(
    y: Array, x: Array, x0: Array, beta: Array, observed: float, expected: float
) -> Array:
    """Return each row's influence on 1 - expected / observed, shape (n,)."""
    risk, base = expit(x @ beta), expit(x0 @ beta)
    information = (x * (risk * (1 - risk))[:, None]).T @ x
    slope = (base * (1 - base)) @ x0 / y.size
    through_model = (x * (y - risk)[:, None]) @ np.linalg.solve(information, slope)
    on_expected = (base - expected) / y.size + through_model
    on_observed = (y - observed) / y.size
    return -on_expected / observed + expected * on_observed / observed**2


def _error(sums: Array) -> float:
    return float(np.sqrt(sums @ sums * sums.size / (sums.size - 1)))
