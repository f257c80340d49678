"""How the risk of not healing goes with the offset of the filling in mm."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.outcome.model_fit import (
    ModelFit,
    exponentiated,
    linear_combination,
    refused_fit,
)
from lengthwise.statistics.outcome.regression import fit_regression
from lengthwise.statistics.outcome.splines import (
    knots_at_quantiles,
    piecewise_basis,
    restricted_cubic_basis,
)
from lengthwise.statistics.results import NAN, Estimate


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Log odds ratio and odds ratio of one value of x against the reference value."""

    x: float
    log_odds_ratio: Estimate
    odds_ratio: Estimate


@dataclass(frozen=True, slots=True)
class DoseResponse:
    """A restricted cubic spline of x in a logistic model.

    Attributes
    ----------
    fit : ModelFit
        Terms: intercept, x, its bends, covariates.
    knots : tuple of float
        In the unit of x.
    curve : tuple of CurvePoint
        Against `reference`, with the band; empty where `valid` is False.
    nonlinearity_chi2, nonlinearity_p : float
        Wald test that all bends are zero, with the robust covariance.
    nonlinearity_degrees : int
    """

    fit: ModelFit
    knots: tuple[float, ...]
    reference: float
    curve: tuple[CurvePoint, ...]
    nonlinearity_chi2: float
    nonlinearity_degrees: int
    nonlinearity_p: float
    valid: bool
    reason: str


@dataclass(frozen=True, slots=True)
class PiecewiseResponse:
    """Two straight lines that meet at a breakpoint.

    Attributes
    ----------
    fit : ModelFit
        Terms: intercept, below, above, covariates.
    below : Estimate or None
        Odds ratio per `step` units DOWN from the breakpoint (further short).
    above : Estimate or None
        Odds ratio per `step` units UP from it (further beyond).
    change_of_slope : Estimate or None
        Slope above minus slope below, log odds per unit of x.
    """

    fit: ModelFit
    breakpoint: float
    step: float
    below: Estimate | None
    above: Estimate | None
    change_of_slope: Estimate | None
    valid: bool
    reason: str


def spline_response(
    outcome: ArrayLike,
    x: ArrayLike,
    *,
    at: Sequence[float],
    reference: float = 0.0,
    knots: Sequence[float] | None = None,
    covariates: ArrayLike | None = None,
    covariate_terms: Sequence[str] = (),
    cluster: ArrayLike | None = None,
    level: float = 0.95,
) -> DoseResponse:
    """Fit a restricted cubic spline of x and draw it against a reference value.

    Parameters
    ----------
    outcome : array of shape (n,)
        0 or 1.
    x : array of shape (n,)
        Offset in mm, positive beyond.
    at : sequence of float
        Values of x at which the curve is given.
    reference : float
        Value of x whose odds ratio is 1.
    knots : sequence of float, optional
        Default: quantiles 0.05, 0.35, 0.65, 0.95 of x. Refused where they coincide.
    covariates : array of shape (n, q), optional
    covariate_terms : sequence of str
        Names of the q covariates.
    cluster : array of shape (n,), optional
        Patient of each row: covariance with factor G/(G-1). Model-based where None.
    level : float
        Confidence level, 0-1.

    Notes
    -----
    Rows with a missing value are set aside. Source: Harrell 2015,
    10.1007/978-3-319-19425-7.
    """
    values = np.asarray(x, dtype=float)
    bends = "the offsets are too alike for a curve: knots coincide"
    if knots is None and not np.isfinite(values).any():
        return _no_curve("no offset is known", (), reference, level)
    chosen = tuple(knots_at_quantiles(values) if knots is None else map(float, knots))
    if knots is None and np.any(np.diff(chosen) <= 0):
        return _no_curve(bends, chosen, reference, level)
    basis = restricted_cubic_basis(values, chosen)
    width = basis.shape[1]
    names = ("x", *(f"bend {i}" for i in range(1, width)))
    fit = _fit(outcome, basis, names, covariates, covariate_terms, cluster, level)
    if not fit.valid:
        return _no_curve(fit.reason, chosen, reference, level, fit)
    gaps = restricted_cubic_basis(at, chosen) - restricted_cubic_basis([reference], chosen)
    curve = tuple(_point(fit, float(value), gap) for value, gap in zip(at, gaps, strict=True))
    extra = slice(2, 1 + width)
    beta, spread = fit.vector()[extra], fit.covariance_array()[extra, extra]
    chi2 = float(beta @ np.linalg.solve(spread, beta))
    p_value = float(stats.chi2.sf(chi2, width - 1))
    return DoseResponse(fit, chosen, reference, curve, chi2, width - 1, p_value, True, "")


def piecewise_response(
    outcome: ArrayLike,
    x: ArrayLike,
    *,
    breakpoint_: float = 0.0,
    step: float = 1.0,
    covariates: ArrayLike | None = None,
    covariate_terms: Sequence[str] = (),
    cluster: ArrayLike | None = None,
    level: float = 0.95,
) -> PiecewiseResponse:
    """Fit one slope below and one above a breakpoint; options as for `spline_response`.

    Refused where x lies on one side of the breakpoint only.
    """
    basis = piecewise_basis(x, breakpoint_)
    fit = _fit(outcome, basis, ("below", "above"), covariates, covariate_terms, cluster, level)
    if not fit.valid:
        return PiecewiseResponse(fit, breakpoint_, step, None, None, None, False, fit.reason)
    zero = np.zeros(len(fit.terms))
    down, up, change = zero.copy(), zero.copy(), zero.copy()
    down[1], up[2] = -step, step
    change[1], change[2] = -1.0, 1.0
    return PiecewiseResponse(
        fit,
        breakpoint_,
        step,
        exponentiated(linear_combination(fit, down)),
        exponentiated(linear_combination(fit, up)),
        linear_combination(fit, change),
        True,
        "",
    )


def _fit(
    outcome: ArrayLike,
    basis: Array,
    names: tuple[str, ...],
    covariates: ArrayLike | None,
    covariate_terms: Sequence[str],
    cluster: ArrayLike | None,
    level: float,
) -> ModelFit:
    parts = [np.ones((len(basis), 1)), basis]
    if covariates is not None:
        parts.append(np.asarray(covariates, dtype=float))
    terms = ("intercept", *names, *covariate_terms)
    return fit_regression(outcome, np.hstack(parts), terms=terms, cluster=cluster, level=level)


def _point(fit: ModelFit, x: float, gap: Array) -> CurvePoint:
    weights = np.zeros(len(fit.terms))
    weights[1 : 1 + gap.size] = gap
    item = linear_combination(fit, weights)
    return CurvePoint(x, item, exponentiated(item))


def _no_curve(
    reason: str,
    knots: tuple[float, ...],
    reference: float,
    level: float,
    fit: ModelFit | None = None,
) -> DoseResponse:
    empty = fit or refused_fit(
        reason, terms=(), method="restricted cubic spline", link="logit", level=level
    )
    return DoseResponse(empty, knots, reference, (), NAN, 0, NAN, False, reason)
