"""Draws of missing values from a model of one column on the others."""

import numpy as np
from scipy.special import expit

from lengthwise.statistics.outcome.arrays import Array, Flags

DONORS = 5
# A little ridge keeps the draw proper where predictors are collinear or separate the column.
RIDGE = 1e-3


def draw_matched(
    column: Array, predictors: Array, holes: Flags, generator: np.random.Generator
) -> Array:
    """Return for each hole the seen value of a row with a similar prediction.

    Coefficients are drawn from their posterior, so that copies differ by as much as the
    model is uncertain. Source: Little 1988, 10.1080/07350015.1988.10509663.
    """
    x, y = predictors[~holes], column[~holes]
    inverse = np.linalg.inv(x.T @ x + RIDGE * np.eye(x.shape[1]))
    estimate = inverse @ (x.T @ y)
    residual = y - x @ estimate
    freedom = max(y.size - x.shape[1], 1)
    variance = float(residual @ residual) / generator.chisquare(freedom)
    root = np.linalg.cholesky(inverse)
    drawn = estimate + np.sqrt(variance) * root @ generator.standard_normal(estimate.size)
    seen, wanted = x @ estimate, predictors[holes] @ drawn
    return y[_donors(seen, wanted, generator)]


def draw_binary(
    column: Array, predictors: Array, holes: Flags, generator: np.random.Generator
) -> Array:
    """Return for each hole a 0 or 1 drawn from a logistic model with drawn coefficients."""
    x, y = predictors[~holes], column[~holes]
    beta = np.zeros(x.shape[1])
    information = np.eye(x.shape[1])
    for _ in range(25):
        risk = expit(x @ beta)
        weight = risk * (1 - risk)
        information = (x * weight[:, None]).T @ x + RIDGE * np.eye(x.shape[1])
        step = np.linalg.solve(information, x.T @ (y - risk) - RIDGE * beta)
        beta = beta + np.clip(step, -5, 5)
        if np.abs(step).max() < 1e-8:
            break
    root = np.linalg.cholesky(np.linalg.inv(information))
    drawn = beta + root @ generator.standard_normal(beta.size)
    share = expit(predictors[holes] @ drawn)
    return (generator.random(share.size) < share).astype(float)


def _donors(seen: Array, wanted: Array, generator: np.random.Generator) -> Array:
    """Return for each wanted prediction the place of a donor among the nearest few."""
    order = np.argsort(seen, kind="stable")
    ranked = seen[order]
    count = min(DONORS, seen.size)
    middle = np.searchsorted(ranked, wanted)
    # The nearest few lie in a window of twice their number around the place of insertion.
    first = np.clip(middle - count, 0, max(seen.size - 2 * count, 0))
    window = first[:, None] + np.arange(min(2 * count, seen.size))
    gaps = np.abs(ranked[window] - wanted[:, None])
    nearest = np.argpartition(gaps, count - 1, axis=1)[:, :count]
    pick = generator.integers(count, size=wanted.size)
    rows = np.arange(wanted.size)
    return order[window[rows, nearest[rows, pick]]]
