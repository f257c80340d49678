"""Risks of two groups among weighted rows."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.regression import fit_regression
from lengthwise.statistics.results import NAN, Estimate, refused

METHOD = "weighted risk difference, robust covariance"


@dataclass(frozen=True, slots=True)
class WeightedRisks:
    """Weighted risk of each group (0-1) and their difference, exposed - reference."""

    risk_reference: float
    risk_exposed: float
    difference: Estimate
    standard_error: float


def weighted_risk_difference(
    outcome: ArrayLike,
    exposed: ArrayLike,
    weights: ArrayLike,
    *,
    cluster: ArrayLike | None = None,
    level: float = 0.95,
) -> WeightedRisks:
    """Compare weighted risks; rows without outcome or weight are set aside.

    Parameters
    ----------
    outcome, exposed : array of shape (n,)
        0 or 1.
    weights : array of shape (n,)
        As from `review_weights`, taken as known.
    cluster : array of shape (n,), optional
        Patient of each row.

    Notes
    -----
    Hajek risks: weighted events / sum of weights. Sandwich without a small-sample factor.
    """
    y, group = np.asarray(outcome, dtype=float), np.asarray(exposed, dtype=float)
    weight = np.asarray(weights, dtype=float)
    known = np.isfinite(y) & np.isfinite(group) & np.isfinite(weight)
    if not (np.any(known & (group == 0)) and np.any(known & (group == 1))):
        nothing = refused("one group has no reviewed tooth", method=METHOD, level=level)
        return WeightedRisks(NAN, NAN, nothing, NAN)
    fit = fit_regression(
        y,
        np.column_stack([np.ones(y.size), group]),
        terms=("reference", "difference"),
        family="gaussian",
        cluster=cluster,
        covariance="robust",
        weights=weight,
        level=level,
    )
    difference = fit.coefficient("difference")
    if not fit.valid:
        return WeightedRisks(NAN, NAN, difference, NAN)
    error = fit.standard_errors[1]
    base = fit.coefficients[0].estimate
    item = Estimate(
        difference.estimate, difference.lower, difference.upper, level,
        fit.n_used, fit.n_missing, METHOD, not math.isclose(error, 0.0),
        "" if error > 0 else "no variation within the groups, so no interval",
    )  # fmt: skip
    return WeightedRisks(base, base + difference.estimate, item, error)
