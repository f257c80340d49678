"""Limits by patient of many practices with one layout, in one call of the product's functions.

A thousand calls of `clustered_limits` spend their time on sorting labels. Here the practices
are stacked as if they were one large one, and the product's inner functions do the rest.
"""

import numpy as np
from scipy import stats

from lengthwise.statistics.agreement.clustered_intervals import (
    IntervalOptions,
    bounds_of_left_out,
    sums_and_statistic,
)
from lengthwise.statistics.agreement.nested import nested_rows
from lengthwise.statistics.clusters import cluster_robust_least_squares

from .practices import Layout

LEVEL = 0.95


def limits_at_once(drawn: np.ndarray, where: Layout, multiplier: float) -> np.ndarray:
    """Return estimate, lower and upper end (S, 4, 3) of bias, SD, lower and upper limit.

    `drawn` (S, n) holds the differences of each practice. The intervals are those of
    `clustered_limits` with interval "jackknife".
    """
    count = len(drawn)
    patients = int(where.patient[-1]) + 1
    levels = {"patient": _stacked(where.patient, count), "tooth": _stacked(where.tooth, count)}
    sums, statistic = sums_and_statistic(nested_rows(drawn.ravel(), levels))
    by_practice = sums.reshape(count, patients, -1)
    whole = by_practice.sum(axis=1)
    centre, sd = np.moveaxis(statistic(whole), -1, 0)
    half = bias_half_widths(drawn, where)
    bounds = bounds_of_left_out(
        statistic(whole[:, None] - by_practice), centre, sd, half,
        IntervalOptions(multiplier, LEVEL, 0, 0),
    )  # fmt: skip
    points = np.stack([sd, centre - multiplier * sd, centre + multiplier * sd], axis=-1)
    bias = np.stack([centre, centre - half, centre + half], axis=-1)
    return np.concatenate(
        [bias[:, None], np.concatenate([points[..., None], bounds], axis=-1)], axis=1
    )


def _stacked(code: np.ndarray, count: int) -> np.ndarray:
    size = int(code[-1]) + 1
    return (code + size * np.arange(count)[:, None]).ravel()


def bias_half_widths(drawn: np.ndarray, where: Layout) -> np.ndarray:
    """Return half-widths (S,) of the CR2 interval; its degrees of freedom hang on the layout."""
    n = drawn.shape[1]
    sizes = np.bincount(where.patient)
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    residual = drawn - drawn.mean(axis=1, keepdims=True)
    scores = np.add.reduceat(residual, starts, axis=1)
    error = np.sqrt((scores**2 / (1 - sizes / n)).sum(axis=1)) / n
    fit = cluster_robust_least_squares(np.ones((n, 1)), drawn[0], where.patient)
    return stats.t.ppf((1 + LEVEL) / 2, fit.degrees_of_freedom[0]) * error
