"""Total deviation index and coverage probability (A8)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, stats

from lengthwise.statistics.agreement.pairs import (
    MINIMUM_PAIRS,
    complete_pairs,
    too_few,
)
from lengthwise.statistics.clusters import (
    FloatArray,
    cluster_sums,
)
from lengthwise.statistics.resampling import (
    cluster_jackknife,
    jackknife_freedom,
    jackknife_standard_error,
)
from lengthwise.statistics.results import NAN, Estimate


@dataclass(frozen=True, slots=True)
class DeviationIndex:
    """Total deviation index (mm that hold a share p) and coverage of a threshold.

    `index_normal` solves the normal equation; `index_lin` is Lin's approximation with its
    one-sided upper bound, right only when the bias is small beside the SD
    (`relative_bias_squared`). Coverage likewise, with a one-sided lower bound.
    """

    index_normal: float
    index_lin: Estimate
    coverage_normal: float
    coverage_lin: Estimate
    coverage_observed: float
    mean_square: float
    relative_bias_squared: float


def deviation_index(
    method: ArrayLike,
    reference: ArrayLike,
    *,
    share: float,
    threshold: float,
    patient: ArrayLike | None = None,
    level: float = 0.95,
    minimum_pairs: int = MINIMUM_PAIRS,
) -> DeviationIndex:
    """Return index and coverage of method - reference (n,).

    The one-sided bounds take pairs as independent; with `patient` they come from a
    jackknife by patient on the log and logit scales, with t on degrees of freedom that
    follow from how unevenly patients weigh. Sources: Lin LI. Stat Med
    2000;19:255-270, doi:10.1002/(SICI)1097-0258(20000130)19:2<255::AID-SIM293>3.0.CO;2-8;
    Lin L et al. J Am Stat Assoc 2002;97:257-270, doi:10.1198/016214502753479392.
    """
    if not 0 < share < 1 or threshold <= 0:
        raise ValueError("share must lie between 0 and 1 and threshold above 0.")
    pairs = complete_pairs(method, reference)
    d, n = pairs.difference, pairs.n_used
    codes, count = pairs.codes(patient)
    reason = too_few(n, max(minimum_pairs, 4)) or too_few(count, 3, what="patients")
    if reason:
        none = pairs.refused(reason, "total deviation index", level)
        return DeviationIndex(NAN, none, NAN, none, NAN, NAN, NAN)
    mean, sd = float(d.mean()), float(d.std(ddof=1))
    mean_square = float(d @ d) / (n - 1)
    variance_3 = float(d.var() * n / (n - 3))
    z = float(stats.norm.ppf((1 + share) / 2))
    index, coverage = z * float(np.sqrt(mean_square)), _coverage(mean, variance_3, threshold)
    if patient is None:
        bounds = _lin_bounds(mean, mean_square, variance_3, coverage, n, threshold, level)
    else:
        sums = cluster_sums(np.column_stack([np.ones(n), d, d * d]), codes, count)
        bounds = _robust_bounds(sums, mean_square, coverage, threshold, level)
    counts = (level, n, pairs.n_missing)
    flat = sd == 0
    return DeviationIndex(
        abs(mean) if flat else _normal_index(mean, sd, share),
        Estimate(index, NAN, z * bounds[0], *counts, "total deviation index; one-sided"),
        float(abs(mean) <= threshold) if flat else _two_tails(mean, sd, threshold),
        Estimate(coverage, bounds[1], NAN, *counts, "coverage probability; one-sided"),
        float(np.mean(np.abs(d) <= threshold + 1e-9)),
        mean_square,
        mean**2 / variance_3 if variance_3 > 0 else NAN,
    )


def _two_tails(mean: float, sd: float, k: float) -> float:
    return float(stats.norm.cdf((k - mean) / sd) - stats.norm.cdf((-k - mean) / sd))


def _normal_index(mean: float, sd: float, share: float) -> float:
    high = abs(mean) + sd * float(stats.norm.ppf((1 + share) / 2)) * 2
    return float(
        optimize.brentq(lambda k: _two_tails(mean, sd, k) - share, 0, high, xtol=1e-13)
    )


def _coverage(mean: float, variance: float, threshold: float) -> float:
    if variance <= 0:
        return float(abs(mean) <= threshold)
    return float(stats.ncx2.cdf(threshold**2 / variance, 1, mean**2 / variance))


def _lin_bounds(
    mean: float,
    mean_square: float,
    variance: float,
    coverage: float,
    n: int,
    threshold: float,
    level: float,
) -> tuple[float, float]:
    """Return the upper bound of sqrt(mean square) and the lower bound of the coverage."""
    if mean_square == 0 or variance <= 0 or not 0 < coverage < 1:
        return float(np.sqrt(mean_square)), coverage
    z = float(stats.norm.ppf(level))
    log_variance = 2 * (1 - mean**4 / mean_square**2) / (n - 2)
    upper = float(np.sqrt(mean_square * np.exp(z * np.sqrt(log_variance))))
    sd = np.sqrt(variance)
    up, down = (threshold - mean) / sd, (threshold + mean) / sd
    p_up, p_down = stats.norm.pdf(up), stats.norm.pdf(down)
    slope_mean = p_down - p_up
    slope_sd = up * p_up + down * p_down
    spread = (slope_mean**2 + slope_sd**2 / 2) / (n - 3)
    logit = np.log(coverage / (1 - coverage))
    error = np.sqrt(spread) / (coverage * (1 - coverage))
    return upper, float(1 / (1 + np.exp(-(logit - z * error))))


def _robust_bounds(
    sums: FloatArray, mean_square: float, coverage: float, threshold: float, level: float
) -> tuple[float, float]:
    if mean_square == 0 or not 0 < coverage < 1:
        return float(np.sqrt(mean_square)), coverage

    def statistic(one: FloatArray) -> FloatArray:
        n, total, square = (one[..., i] for i in range(3))
        variance = np.maximum(square / n - (total / n) ** 2, 1e-300) * n / (n - 3)
        mean = total / n
        held = stats.ncx2.cdf(threshold**2 / variance, 1, mean**2 / variance)
        held = np.clip(held, 1e-12, 1 - 1e-12)
        return np.stack([np.log(square / (n - 1)), np.log(held / (1 - held))], axis=-1)

    left_out = cluster_jackknife(sums, statistic)
    errors = jackknife_standard_error(left_out)
    t = stats.t.ppf(level, jackknife_freedom((left_out - left_out.mean(axis=0)).T))
    upper = float(np.sqrt(mean_square * np.exp(t[0] * errors[0])))
    logit = np.log(coverage / (1 - coverage)) - t[1] * errors[1]
    return upper, float(1 / (1 + np.exp(-logit)))
