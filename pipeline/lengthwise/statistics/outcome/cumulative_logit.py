"""Likelihood of cumulative logits, parallel or not, by Newton's method."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from lengthwise.statistics.outcome.arrays import Array

MOST_STEPS = 100
# Condition of the information, each parameter in its own unit, from which it is singular.
FLAT = 1e12


@dataclass(frozen=True, slots=True)
class CumulativeFit:
    """Maximum of the likelihood: parameters, their covariance, and the log-likelihood."""

    parameters: Array
    covariance: Array
    log_likelihood: float
    failure: str


def fit_cumulative_logit(
    category: NDArray[np.int64], x: Array, weights: Array, *, parallel: bool
) -> CumulativeFit:
    """Maximise the likelihood of logit P(Y <= j) = threshold_j - x'b (b_j if not parallel).

    Parameters
    ----------
    category : array of shape (n,)
        0 to k - 1, each of them present.
    x : array of shape (n, p)
        Without an intercept.
    weights : array of shape (n,)
        Frequencies.
    parallel : bool
        One slope for all cuts, or one for each.

    Notes
    -----
    Parameters: slopes, then thresholds when parallel; else for each cut its slopes and
    threshold. Standard errors rest on the observed information.
    """
    cuts = int(category.max())
    upper, lower = _layout(category, x, cuts, parallel)
    beta = _start(category, x.shape[1], weights, cuts, parallel)
    value, gradient, hessian = _derivatives(beta, upper, lower, category, weights, cuts)
    for _ in range(MOST_STEPS):
        try:
            step = np.linalg.solve(-hessian, gradient)
        except np.linalg.LinAlgError:
            return CumulativeFit(beta, hessian, value, "the likelihood has no single maximum")
        size = 1.0
        while size > 1e-6:
            new = _derivatives(beta + size * step, upper, lower, category, weights, cuts)
            if np.isfinite(new[0]) and new[0] >= value - 1e-9 * (1 + abs(value)):
                break
            size /= 2
        beta = beta + size * step
        value, gradient, hessian = new
        if np.all(np.abs(step) <= 1e-9 * (1 + np.abs(beta))):
            return _settled(beta, hessian, value)
        if np.abs(beta).max() > 1e4:
            break
    return CumulativeFit(beta, hessian, value, "the ordinal model did not converge")


def _settled(beta: Array, hessian: Array, value: float) -> CumulativeFit:
    # Where a slope runs away the likelihood grows flat, and steps vanish without a maximum.
    size = np.sqrt(np.abs(np.diag(hessian)))
    if size.min() == 0 or np.linalg.cond(hessian / np.outer(size, size)) > FLAT:
        return CumulativeFit(beta, hessian, value, "the likelihood has no single maximum")
    return CumulativeFit(beta, np.linalg.inv(-hessian), value, "")


def _layout(
    category: NDArray[np.int64], x: Array, cuts: int, parallel: bool
) -> tuple[Array, Array]:
    """Return the designs of the upper and the lower threshold of each row's category."""
    n, width = x.shape
    size = width + cuts if parallel else cuts * (width + 1)
    upper, lower = np.zeros((n, size)), np.zeros((n, size))
    for target, cut in ((upper, category), (lower, category - 1)):
        rows = np.flatnonzero((cut >= 0) & (cut < cuts))
        if parallel:
            target[rows, :width] = -x[rows]
            target[rows, width + cut[rows]] = 1.0
            continue
        places = cut[rows][:, None] * (width + 1) + np.arange(width)
        target[rows[:, None], places] = -x[rows]
        target[rows, cut[rows] * (width + 1) + width] = 1.0
    return upper, lower


def _start(
    category: NDArray[np.int64], width: int, weights: Array, cuts: int, parallel: bool
) -> Array:
    counts = np.bincount(category, weights=weights)
    below = np.cumsum(counts)[:-1] / counts.sum()
    thresholds = np.log(below / (1 - below))
    if parallel:
        return np.concatenate([np.zeros(width), thresholds])
    return np.concatenate([np.append(np.zeros(width), t) for t in thresholds])


def _derivatives(
    beta: Array,
    upper: Array,
    lower: Array,
    category: NDArray[np.int64],
    weights: Array,
    cuts: int,
) -> tuple[float, Array, Array]:
    top, bottom = expit(upper @ beta), expit(lower @ beta)
    top = np.where(category == cuts, 1.0, top)
    bottom = np.where(category == 0, 0.0, bottom)
    mass = top - bottom
    if np.any(mass[weights > 0] <= 0):
        return -np.inf, beta, np.eye(beta.size)
    safe = np.where(mass > 0, mass, 1.0)
    top_slope, bottom_slope = top * (1 - top), bottom * (1 - bottom)
    a, b = top_slope / safe, bottom_slope / safe
    gradient = (weights * a) @ upper - (weights * b) @ lower
    aa = weights * (top_slope * (1 - 2 * top) / safe - a**2)
    bb = weights * (-bottom_slope * (1 - 2 * bottom) / safe - b**2)
    cross = upper.T @ ((weights * a * b)[:, None] * lower)
    hessian = upper.T @ (aa[:, None] * upper) + lower.T @ (bb[:, None] * lower)
    value = float(np.sum(weights * np.log(safe)))
    return value, gradient, hessian + cross + cross.T
