"""Intervals of a sum of mean squares and of limits built on it, by variance recovery."""

from dataclasses import dataclass

import numpy as np
from scipy import stats

from lengthwise.statistics.clusters import FloatArray


@dataclass(frozen=True, slots=True)
class VarianceInterval:
    """A variance with its bounds; bounds below 0 are set to 0."""

    variance: float
    lower: float
    upper: float


def variance_interval(
    mean_squares: FloatArray, weights: FloatArray, freedom: FloatArray, *, level: float = 0.95
) -> VarianceInterval:
    """Return the interval of sum(weights * mean_squares), each a chi-square on `freedom`.

    Source: Zou GY. Stat Methods Med Res 2013;22:630-642, doi:10.1177/0962280211402548.
    """
    used = freedom > 0
    ms, weight, df = mean_squares[used], weights[used], freedom[used]
    low = ms * df / stats.chi2.ppf((1 + level) / 2, df)
    high = ms * df / stats.chi2.ppf((1 - level) / 2, df)
    total = float(weight @ ms)
    # A term that is taken away pulls the sum down when it is large itself.
    downwards = np.where(weight > 0, ms - low, high - ms)
    upwards = np.where(weight > 0, high - ms, ms - low)
    lower = total - float(np.sqrt(np.sum((weight * downwards) ** 2)))
    upper = total + float(np.sqrt(np.sum((weight * upwards) ** 2)))
    return VarianceInterval(total, max(lower, 0.0), max(upper, 0.0))


def limit_distances(
    interval: VarianceInterval, bias_half_width: float, multiplier: float
) -> tuple[float, float]:
    """Return how far a limit's interval reaches inwards and outwards from the limit."""
    sd = np.sqrt(max(interval.variance, 0.0))
    inward = multiplier * (sd - np.sqrt(interval.lower))
    outward = multiplier * (np.sqrt(interval.upper) - sd)
    return float(np.hypot(bias_half_width, inward)), float(np.hypot(bias_half_width, outward))


def related_distance(first: FloatArray, second: FloatArray, likeness: FloatArray) -> FloatArray:
    """Return how far a sum reaches whose parts reach `first` and `second`, correlated."""
    square = first**2 + second**2 + 2 * likeness * first * second
    return np.sqrt(np.maximum(square, 0.0))
