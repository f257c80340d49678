"""Risks of two groups among weighted rows."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.arrays import Array, Flags
from lengthwise.statistics.outcome.model_fit import ModelFit
from lengthwise.statistics.outcome.regression import fit_regression
from lengthwise.statistics.proportions import wilson_bounds
from lengthwise.statistics.results import NAN, Estimate, refused

METHOD = "weighted risk difference, robust covariance"
SCORE_METHOD = "weighted risk difference, Newcombe on effective numbers"


@dataclass(frozen=True, slots=True)
class WeightedRisks:
    """Weighted risk of each group (0-1) and their difference, exposed - reference.

    Attributes
    ----------
    risk_reference, risk_exposed : float
    difference : Estimate
        With the Wald interval of the sandwich; far too narrow where a group has few events.
    score_difference : Estimate
        With Newcombe's interval on the numbers of teeth that weights and patients leave; the
        one for reports.
    standard_error : float
    """

    risk_reference: float
    risk_exposed: float
    difference: Estimate
    standard_error: float
    score_difference: Estimate


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
    Effective number of a group: p (1 - p) / variance, at most (sum w)^2 / sum w^2. Source of
    the interval: Newcombe 1998, 10.1002/(SICI)1097-0258(19980430)17:8<873::AID-SIM779>3.0.CO;2-I.
    """
    y, group = np.asarray(outcome, dtype=float), np.asarray(exposed, dtype=float)
    weight = np.asarray(weights, dtype=float)
    known = np.isfinite(y) & np.isfinite(group) & np.isfinite(weight)
    if not (np.any(known & (group == 0)) and np.any(known & (group == 1))):
        nothing = refused("one group has no reviewed tooth", method=METHOD, level=level)
        return WeightedRisks(NAN, NAN, nothing, NAN, nothing)
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
        return WeightedRisks(NAN, NAN, difference, NAN, difference)
    error = fit.standard_errors[1]
    base = fit.coefficients[0].estimate
    item = Estimate(
        difference.estimate, difference.lower, difference.upper, level,
        fit.n_used, fit.n_missing, METHOD, not math.isclose(error, 0.0),
        "" if error > 0 else "no variation within the groups, so no interval",
    )  # fmt: skip
    sizes = [_kish(weight, known & (group == place)) for place in (0, 1)]
    risks = (base, base + difference.estimate)
    return WeightedRisks(*risks, item, error, _score(fit, risks, sizes, level))


def _kish(weight: Array, chosen: Flags) -> float:
    """Return (sum w)^2 / sum w^2 of the chosen rows."""
    own = weight[chosen]
    return float(own.sum() ** 2 / (own @ own)) if own.any() else 0.0


def _score(
    fit: ModelFit, risks: tuple[float, float], sizes: list[float], level: float
) -> Estimate:
    """Return the difference with Newcombe's interval, allowing for shared patients."""
    spread = fit.covariance_array()
    total = float(spread[0, 0] + 2 * spread[0, 1] + spread[1, 1])
    variances = (float(spread[0, 0]), total)
    shared = float(spread[0, 0] + spread[0, 1])
    product = math.sqrt(max(variances[0] * variances[1], 0.0))
    correlation = min(max(shared / product, -1.0), 1.0) if product > 0 else 0.0
    ends = []
    for risk, variance, size in zip(risks, variances, sizes, strict=True):
        inside = min(max(risk, 0.0), 1.0)
        own = inside * (1 - inside)
        effective = min(size, own / variance) if variance > 0 and own > 0 else size
        low, high = wilson_bounds(inside * effective, effective, level=level)
        ends.append((inside - low, high - inside))
    (down_0, up_0), (down_1, up_1) = ends
    lower = math.sqrt(max(down_1**2 + up_0**2 - 2 * correlation * down_1 * up_0, 0.0))
    upper = math.sqrt(max(up_1**2 + down_0**2 - 2 * correlation * up_1 * down_0, 0.0))
    value = risks[1] - risks[0]
    counts = (level, fit.n_used, fit.n_missing)
    return Estimate(value, value - lower, value + upper, *counts, SCORE_METHOD)
