"""Jackknife and bootstrap over clusters for statistics of sums.

A statistic that depends on the rows only through sums by cluster can be resampled without
touching the rows again: a draw is a weighted sum of the cluster sums.
"""

from collections.abc import Callable

import numpy as np
from scipy import stats

from lengthwise.statistics.clusters import FloatArray
from lengthwise.statistics.results import NAN

# Takes sums (..., q), gives statistics (..., k).
Statistic = Callable[[FloatArray], FloatArray]
# Stands with a coefficient that `agreement_bounds` gives no bounds.
AGREE_EVERYWHERE = "the readings agree everywhere, so no interval can be told"
_ELEMENTS_AT_ONCE = 2_000_000
# The spread of a squared spread cannot be told from fewer.
LEAST_DEGREES = 3.0


def cluster_jackknife(sums: FloatArray, statistic: Statistic) -> FloatArray:
    """Return the statistic with each cluster left out in turn, (G, k), from sums (G, q)."""
    return statistic(sums.sum(axis=0) - sums)


def jackknife_standard_error(replicates: FloatArray) -> FloatArray:
    """Return sqrt((G-1)/G sum (replicate - mean)^2) for each of the k statistics.

    Source: Efron B, Stein C. Ann Stat 1981;9:586-596, doi:10.1214/aos/1176345462.
    """
    count = len(replicates)
    spread = np.sum((replicates - replicates.mean(axis=0)) ** 2, axis=0)
    return np.sqrt((count - 1) / count * spread)


def log_jackknife_bounds(
    value: FloatArray, left_out: FloatArray, *, level: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """Return bounds of a positive `value` (...) from those without each cluster (..., G).

    The logarithm gets a t interval with its jackknife error, on degrees of freedom that follow
    from how unevenly clusters weigh on it. Where one cluster holds all of the value there is
    no logarithm without it: the interval is then symmetric, and ends at 0. Source: Miller RG.
    Ann Math Stat 1968;39:567-582, doi:10.1214/aoms/1177698418.
    """
    n = left_out.shape[-1]
    moves = left_out - left_out.mean(axis=-1, keepdims=True)
    quantile = stats.t.ppf((1 + level) / 2, jackknife_freedom(moves))
    positive = (value > 0) & np.all(left_out > 0, axis=-1)
    logs = np.log(np.where(positive[..., None], left_out, 1.0))
    of_log = logs - logs.mean(axis=-1, keepdims=True)
    reach = quantile * np.sqrt((n - 1) / n * (of_log**2).sum(axis=-1))
    plain = quantile * np.sqrt((n - 1) / n * (moves**2).sum(axis=-1))
    lower = np.where(positive, value * np.exp(-reach), np.maximum(value - plain, 0.0))
    return lower, np.where(positive, value * np.exp(reach), value + plain)


def agreement_bounds(
    value: float, left_out: FloatArray, level: float = 0.95
) -> tuple[float, float]:
    """Return bounds of a coefficient of agreement from those without each cluster (G,).

    Disagreement, 1 less the coefficient, is a positive ratio: its logarithm is the nearer to
    normal the higher the agreement. No coefficient is shown below -1; where readings agree
    everywhere there is no spread to go by, and the bounds are NaN.
    """
    if value >= 1 - 1e-12:
        return NAN, NAN
    low, high = log_jackknife_bounds(np.array(1 - value), 1 - left_out, level=level)
    return max(1 - float(high), -1.0), 1 - float(low)


def jackknife_freedom(moves: FloatArray) -> FloatArray:
    """Return degrees of freedom (...) of jackknife variances of `moves` (..., G).

    A variance whose terms are uneven is less certain; Satterthwaite's rule turns that into
    degrees of freedom.
    """
    n = moves.shape[-1]
    squares = moves**2
    square = squares.mean(axis=-1)
    safe = np.where(square > 0, square, 1.0)
    uneven = (squares**2).mean(axis=-1) / safe**2 - 1
    found = 2 * n / np.maximum(uneven, 2 * n / (n - 1.0))
    return np.asarray(np.maximum(found, LEAST_DEGREES))


def cluster_bootstrap(
    sums: FloatArray, statistic: Statistic, *, draws: int, seed: int
) -> FloatArray:
    """Return the statistic in `draws` resamples of whole clusters, (draws, k).

    A cluster drawn twice counts as two clusters. The same seed gives the same draws.
    """
    if draws < 1:
        raise ValueError("draws must be at least 1.")
    generator = np.random.default_rng(seed)
    count = len(sums)
    batch = max(1, min(draws, _ELEMENTS_AT_ONCE // count))
    found = []
    for start in range(0, draws, batch):
        size = min(batch, draws - start)
        picked = generator.integers(0, count, size=(size, count))
        picked += np.arange(size)[:, None] * count
        weights = np.bincount(picked.ravel(), minlength=size * count).reshape(size, count)
        found.append(statistic(weights.astype(float) @ sums))
    return np.concatenate(found)


def percentile_bounds(
    replicates: FloatArray, *, level: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """Return the percentile interval of each of the k statistics, ignoring failed draws."""
    tail = (1 - level) / 2
    low, high = np.nanquantile(replicates, [tail, 1 - tail], axis=0)
    return low, high


def bca_bounds(
    estimate: FloatArray, replicates: FloatArray, left_out: FloatArray, *, level: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """Return bias-corrected and accelerated bounds of each of the k statistics.

    `left_out` is the jackknife (G, k). Source: Efron B. J Am Stat Assoc 1987;82:171-185,
    doi:10.1080/01621459.1987.10478410.
    """
    below = np.mean(replicates < estimate, axis=0) + np.mean(replicates == estimate, axis=0) / 2
    limit = 0.5 / len(replicates)
    bias = stats.norm.ppf(np.clip(below, limit, 1 - limit))
    deviation = left_out.mean(axis=0) - left_out
    spread = np.sum(deviation**2, axis=0) ** 1.5
    cubes = np.sum(deviation**3, axis=0)
    acceleration = np.where(spread > 0, cubes / np.where(spread > 0, 6 * spread, 1.0), 0.0)
    bounds = []
    for z in stats.norm.ppf([(1 - level) / 2, (1 + level) / 2]):
        shifted = bias + (bias + z) / (1 - acceleration * (bias + z))
        quantiles = stats.norm.cdf(shifted)
        columns = zip(replicates.T, np.atleast_1d(quantiles), strict=True)
        bounds.append(np.array([np.quantile(column, q) for column, q in columns]))
    return bounds[0], bounds[1]
