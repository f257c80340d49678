"""Factors of exact intervals for limits of agreement (Carkeet 2015)."""

from functools import lru_cache

import numpy as np
from scipy import optimize, stats

from lengthwise.statistics.clusters import FloatArray


@lru_cache(maxsize=4096)
def one_limit_factors(
    n: int, *, coverage: float = 0.95, level: float = 0.95
) -> tuple[float, float]:
    """Return inner and outer multiples of the SD for one limit by itself.

    The interval of the upper limit is bias + factor * SD. It comes from the noncentral t
    distribution. Source: Carkeet A. Optom Vis Sci 2015;92:e71-80,
    doi:10.1097/OPX.0000000000000513.
    """
    shift = stats.norm.ppf((1 + coverage) / 2) * np.sqrt(n)
    tails = [(1 - level) / 2, (1 + level) / 2]
    inner, outer = stats.nct.ppf(tails, df=n - 1, nc=shift) / np.sqrt(n)
    return float(inner), float(outer)


def pair_factors(n: int, *, coverage: float = 0.95, level: float = 0.95) -> tuple[float, float]:
    """Return inner and outer multiples of the SD for both limits taken together.

    They are two-sided normal tolerance factors with confidence (1-level)/2 and (1+level)/2.
    Source: Carkeet A, Goh YT. Stat Methods Med Res 2018;27:1559-1574,
    doi:10.1177/0962280216665419.
    """
    inner = two_sided_factor(n, coverage=coverage, confidence=(1 - level) / 2)
    return inner, two_sided_factor(n, coverage=coverage, confidence=(1 + level) / 2)


@lru_cache(maxsize=4096)
def two_sided_factor(n: int, *, coverage: float, confidence: float) -> float:
    """Return k so that mean -/+ k SD holds `coverage` of a normal with `confidence`.

    Exact: the chance is integrated over the sample mean. Needs n >= 2.
    """
    if n < 2:
        raise ValueError("n must be at least 2.")
    nodes, weights = np.polynomial.legendre.leggauss(160)
    # The mean of n standard normals lies within 9 of its standard errors.
    upper = 9.0 / np.sqrt(n)
    x = (nodes + 1) / 2 * upper
    density = stats.norm.pdf(x * np.sqrt(n)) * np.sqrt(n) * weights * upper
    radius = _half_width(x, coverage)

    def shortfall(factor: float) -> float:
        inside = stats.chi2.sf((n - 1) * (radius / factor) ** 2, n - 1)
        return float(density @ inside) - confidence

    high = 2.0
    while shortfall(high) < 0:
        high *= 2
    return float(optimize.brentq(shortfall, 1e-8, high, xtol=1e-14, rtol=1e-13))


def _half_width(centre: FloatArray, coverage: float) -> FloatArray:
    """Return r with P(centre - r < Z < centre + r) = coverage, by Newton steps."""
    r = centre + stats.norm.ppf(coverage)
    r = np.maximum(r, stats.norm.ppf((1 + coverage) / 2))
    for _ in range(60):
        inside = stats.norm.cdf(centre + r) - stats.norm.cdf(centre - r) - coverage
        slope = stats.norm.pdf(centre + r) + stats.norm.pdf(centre - r)
        step = inside / slope
        r = r - step
        if np.max(np.abs(step)) < 1e-14:
            break
    return r
