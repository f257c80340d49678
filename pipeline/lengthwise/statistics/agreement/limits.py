"""Limits of agreement for independent pairs, one per patient (A1)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement import tolerance_factors
from lengthwise.statistics.agreement.pairs import (
    MINIMUM_PAIRS,
    complete_pairs,
    too_few,
    warning_for,
)
from lengthwise.statistics.clusters import FloatArray
from lengthwise.statistics.results import NAN, Estimate, refused

# How often the exact interval held the farther limit: tests/coverage, whose table the handbook
# shows. From 100 pairs on a skewness of 1 shows itself in the test of skewness.
PAIRS_THAT_SHOW_SKEW = 100
HELD = (
    "exact for normal differences; in simulation with skewed ones (skewness 1) it held the "
    "farther limit in 81 to 84 of 100 runs"
)
INTERVALS = ("exact", "exact_one_limit", "approximate_1999", "approximate_1986")


@dataclass(frozen=True, slots=True)
class LimitsOfAgreement:
    """Bias, SD (divisor n-1) and limits, in the unit of the lengths.

    `bias` and `standard_deviation` refer to method - reference; `lower` and `upper` are
    bias -/+ multiplier * SD with their own intervals.
    """

    bias: Estimate
    standard_deviation: float
    lower: Estimate
    upper: Estimate
    multiplier: float
    coverage: float
    interval: str


def limits_of_agreement(
    method: ArrayLike,
    reference: ArrayLike,
    *,
    coverage: float = 0.95,
    multiplier: float | None = None,
    interval: str = "exact",
    level: float = 0.95,
    minimum_pairs: int = MINIMUM_PAIRS,
) -> LimitsOfAgreement:
    """Return bias and limits of agreement of `method` (n,) with `reference` (n,).

    Pairs must be independent: for several canals of a patient use `clustered_limits`.

    Parameters
    ----------
    coverage : float
        Share of future differences that the limits shall hold, 0-1.
    multiplier : float, optional
        Multiple of the SD; by default the normal quantile of `coverage`.
    interval : str
        "exact" (both limits together), "exact_one_limit", "approximate_1999" or
        "approximate_1986".
    minimum_pairs : int
        Below this number no limits are given; below 20 they carry a warning.

    Notes
    -----
    Incomplete pairs are set aside and counted. Differences are taken as normal. Sources:
    Bland JM, Altman DG. Lancet 1986;1:307-310, doi:10.1016/S0140-6736(86)90837-8, and Stat
    Methods Med Res 1999;8:135-160, doi:10.1177/096228029900800204; Carkeet A. Optom Vis Sci
    2015;92:e71-80, doi:10.1097/OPX.0000000000000513.
    """
    if interval not in INTERVALS:
        raise ValueError(f"interval must be one of {INTERVALS}, got {interval!r}.")
    pairs = complete_pairs(method, reference)
    k = float(stats.norm.ppf((1 + coverage) / 2)) if multiplier is None else float(multiplier)
    n, missing = pairs.n_used, pairs.n_missing
    reason = too_few(n, max(minimum_pairs, 2))
    names = (f"limit of agreement; {interval} interval", "bias; t interval")
    if reason:
        none = [
            refused(reason, method=name, n_used=n, n_missing=missing, level=level)
            for name in names
        ]
        return LimitsOfAgreement(none[1], NAN, none[0], none[0], k, coverage, interval)
    bias, sd = float(pairs.difference.mean()), float(pairs.difference.std(ddof=1))
    t = float(stats.t.ppf((1 + level) / 2, n - 1))
    inner, outer = _distances(n, sd, k, t, coverage=coverage, level=level, interval=interval)
    half, few = t * sd / np.sqrt(n), warning_for(n)
    said = _held_in_simulation(pairs.difference) if interval.startswith("exact") else ""
    both = "; ".join(one for one in (few, said) if one)
    low, high = bias - k * sd, bias + k * sd

    def given(value: float, lower: float, upper: float, name: str, note: str) -> Estimate:
        return Estimate(value, lower, upper, level, n, missing, name, True, note)

    return LimitsOfAgreement(
        given(bias, float(bias - half), float(bias + half), names[1], few),
        sd,
        given(low, bias - outer, bias - inner, names[0], both),
        given(high, bias + inner, bias + outer, names[0], both),
        k,
        coverage,
        interval,
    )


def _held_in_simulation(difference: FloatArray) -> str:
    """Return what simulation found, unless so many pairs would have shown their skew."""
    if len(difference) >= PAIRS_THAT_SHOW_SKEW and np.ptp(difference) > 0:
        return HELD if stats.skewtest(difference).pvalue < 0.05 else ""
    return HELD


def _distances(
    n: int, sd: float, k: float, t: float, *, coverage: float, level: float, interval: str
) -> tuple[float, float]:
    """Return how far from the bias the inner and outer ends of a limit's interval lie."""
    if interval == "exact":
        inner, outer = tolerance_factors.pair_factors(n, coverage=coverage, level=level)
        return inner * sd, outer * sd
    if interval == "exact_one_limit":
        inner, outer = tolerance_factors.one_limit_factors(n, coverage=coverage, level=level)
        return inner * sd, outer * sd
    share = 3 / n if interval == "approximate_1986" else 1 / n + k**2 / (2 * (n - 1))
    half = t * sd * float(np.sqrt(share))
    return k * sd - half, k * sd + half


@dataclass(frozen=True, slots=True)
class PercentileLimits:
    """Limits as percentiles of the differences, for differences that are not normal."""

    quantiles: FloatArray
    probabilities: tuple[float, ...]
    n_used: int
    n_missing: int
    method: str
    valid: bool
    reason: str


def percentile_limits(
    method: ArrayLike,
    reference: ArrayLike,
    *,
    probabilities: tuple[float, ...] = (0.025, 0.975),
    rule: str = "linear",
    minimum_pairs: int = MINIMUM_PAIRS,
) -> PercentileLimits:
    """Return percentiles of method - reference; `rule` is "linear" or "weibull".

    Source: Bland JM, Altman DG. Stat Methods Med Res 1999;8:135-160 section 6,
    doi:10.1177/096228029900800204. "linear" is Hyndman-Fan type 7, "weibull" type 6.
    """
    if rule not in ("linear", "weibull"):
        raise ValueError(f"rule must be 'linear' or 'weibull', got {rule!r}.")
    pairs = complete_pairs(method, reference)
    reason = too_few(pairs.n_used, max(minimum_pairs, 1))
    name = f"percentiles of the differences; {rule} rule"
    values = np.full(len(probabilities), NAN)
    if not reason:
        # The method of numpy is a Literal; both words were checked above.
        values = np.quantile(pairs.difference, probabilities, method=rule)  # type: ignore[call-overload]
    return PercentileLimits(
        values, tuple(probabilities), pairs.n_used, pairs.n_missing, name, not reason, reason
    )
