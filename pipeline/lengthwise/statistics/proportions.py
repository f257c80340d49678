"""Proportions 0-1 with their intervals, for independent units and for clusters."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special, stats

from lengthwise.statistics.clusters import (
    ONE_CLUSTER,
    FloatArray,
    OneWayAnova,
    anova_from_sums,
    cluster_codes,
    cluster_sums,
)
from lengthwise.statistics.results import NAN, Estimate, refused

INTERVALS = ("wilson", "wilson_cc", "clopper_pearson", "jeffreys")


def wilson_bounds(
    successes: float, n: float, *, level: float = 0.95, continuity: bool = False
) -> tuple[float, float]:
    """Return the Wilson score bounds of `successes` of `n`; effective counts may be fractions.

    With `continuity` it is method 4 of Newcombe. Source: Newcombe RG. Stat Med
    1998;17:857-872, doi:10.1002/(SICI)1097-0258(19980430)17:8<857::AID-SIM777>3.0.CO;2-E.
    """
    if not 0 <= successes <= n or n <= 0:
        raise ValueError("successes must lie between 0 and n, and n above 0.")
    p, z = successes / n, float(special.ndtri((1 + level) / 2))
    if not continuity:
        centre = 2 * n * p + z**2
        half = z * np.sqrt(z**2 + 4 * n * p * (1 - p))
        lower, upper = centre - half, centre + half
    else:
        lower = 2 * n * p + z**2 - 1
        lower -= z * np.sqrt(max(z**2 - 2 - 1 / n + 4 * p * (n * (1 - p) + 1), 0.0))
        upper = 2 * n * p + z**2 + 1
        upper += z * np.sqrt(max(z**2 + 2 - 1 / n + 4 * p * (n * (1 - p) - 1), 0.0))
    low = 0.0 if successes == 0 else max(0.0, float(lower / (2 * (n + z**2))))
    high = 1.0 if successes == n else min(1.0, float(upper / (2 * (n + z**2))))
    return low, high


def beta_bounds(
    successes: float, n: float, *, level: float = 0.95, jeffreys: bool = False
) -> tuple[float, float]:
    """Return Clopper-Pearson bounds, or Jeffreys bounds with 0 and 1 kept at the ends.

    Sources: Clopper CJ, Pearson ES. Biometrika 1934;26:404-413, doi:10.1093/biomet/26.4.404;
    Brown LD, Cai TT, DasGupta A. Stat Sci 2001;16:101-133, doi:10.1214/ss/1009213286.
    """
    tail = (1 - level) / 2
    if jeffreys:
        prior = stats.beta(successes + 0.5, n - successes + 0.5)
        low, high = float(prior.ppf(tail)), float(prior.ppf(1 - tail))
    else:
        low = float(stats.beta.ppf(tail, successes, n - successes + 1)) if successes else 0.0
        high = (
            float(stats.beta.ppf(1 - tail, successes + 1, n - successes))
            if successes < n
            else 1.0
        )
    return (0.0 if successes == 0 else low), (1.0 if successes == n else high)


def proportion(
    successes: int,
    n: int,
    *,
    level: float = 0.95,
    interval: str = "wilson",
    n_missing: int = 0,
    minimum_n: int = 1,
) -> Estimate:
    """Return `successes` of `n` independent units as a proportion with its interval.

    `interval` is one of `INTERVALS`. Below `minimum_n` the proportion is refused.
    """
    if interval not in INTERVALS:
        raise ValueError(f"interval must be one of {INTERVALS}, got {interval!r}.")
    if not 0 <= successes <= n:
        raise ValueError("successes must lie between 0 and n.")
    method = f"proportion; {interval} interval"
    if n < max(minimum_n, 1):
        reason = (
            "the denominator is 0" if n == 0 else f"fewer than {minimum_n} in the denominator"
        )
        return refused(reason, method=method, n_used=n, n_missing=n_missing, level=level)
    if interval.startswith("wilson"):
        bounds = wilson_bounds(successes, n, level=level, continuity=interval == "wilson_cc")
    else:
        bounds = beta_bounds(successes, n, level=level, jeffreys=interval == "jeffreys")
    return Estimate(successes / n, *bounds, level, n, n_missing, method)


@dataclass(frozen=True, slots=True)
class ClusteredProportion:
    """A proportion over clusters: one estimate and three cluster-aware intervals.

    `wilson_icc` (Wilson with n divided by 1 + ICC (sum m^2 / sum m - 1)) is the one for
    reports; `wilson_ratio` divides n by the ratio estimator's design effect; `wald` is the
    ratio estimator with t on G-1 degrees of freedom. `naive` ignores clusters.
    """

    wilson_icc: Estimate
    wilson_ratio: Estimate
    wald: Estimate
    naive: Estimate
    variance: float
    standard_error: float
    design_effect: float
    n_effective: float
    icc: float
    mean_size_m0: float
    inflation: float
    successes: int
    n_clusters: int


def clustered_proportion(
    successes: ArrayLike, sizes: ArrayLike, *, level: float = 0.95, n_missing: int = 0
) -> ClusteredProportion:
    """Return the proportion from `successes` (G,) of `sizes` (G,) by cluster.

    A negative or undefined intraclass correlation counts as 0 in `inflation`. Sources: Rao
    JNK, Scott AJ. Biometrics 1992;48:577-585, doi:10.2307/2532311; Short MI et al. Stat
    Methods Med Res 2020;29:111-121, doi:10.1177/0962280218819568.
    """
    y, m = np.asarray(successes, dtype=float), np.asarray(sizes, dtype=float)
    if y.shape != m.shape or np.any(y < 0) or np.any(y > m):
        raise ValueError("successes and sizes must be alike, with 0 <= successes <= sizes.")
    y, m = y[m > 0], m[m > 0]
    total, count = float(m.sum()), len(m)
    naive = proportion(round(y.sum()), round(total), level=level, n_missing=n_missing)
    if count < 2:
        return _unclustered(naive, round(y.sum()), count)
    p = float(y.sum() / total)
    anova = anova_from_sums(y, float(y.sum()), m)
    variance = float(count / (count - 1) * np.sum((y - p * m) ** 2) / total**2)
    inflation = 1 + max(_icc_or_zero(anova), 0.0) * (np.sum(m**2) / total - 1)
    simple = p * (1 - p) / total
    effect = variance / simple if simple > 0 else NAN
    names = "proportion; {} over patients"
    return ClusteredProportion(
        wilson_icc=_effective(naive, inflation, names.format("Wilson, design effect from ICC")),
        wilson_ratio=_effective(
            naive, effect, names.format("Wilson, design effect from ratio")
        ),
        wald=_wald(naive, variance, count, names.format("ratio estimator, t")),
        naive=naive,
        variance=variance,
        standard_error=float(np.sqrt(variance)),
        design_effect=effect,
        n_effective=total / effect if effect and np.isfinite(effect) else NAN,
        icc=anova.icc,
        mean_size_m0=anova.n0,
        inflation=float(inflation),
        successes=round(y.sum()),
        n_clusters=count,
    )


def _wald(naive: Estimate, variance: float, count: int, method: str) -> Estimate:
    """Return the ratio estimator's t interval, refused where it would have no width."""
    p, level, n, missing = naive.estimate, naive.level, naive.n_used, naive.n_missing
    if variance == 0:
        reason = "no variation between patients, so this interval would have no width"
        return refused(reason, method=method, n_used=n, n_missing=missing, level=level)
    half = float(special.stdtrit(count - 1, (1 + level) / 2) * np.sqrt(variance))
    return Estimate(p, p - half, p + half, level, n, missing, method)


def _icc_or_zero(anova: OneWayAnova) -> float:
    return anova.icc if anova.valid else 0.0


def _effective(naive: Estimate, inflation: float, method: str) -> Estimate:
    """Return the Wilson interval with the counts divided by `inflation`."""
    n = naive.n_used
    if not np.isfinite(inflation) or inflation <= 0:
        return refused(
            "the design effect cannot be computed from these counts",
            method=method,
            n_used=n,
            n_missing=naive.n_missing,
            level=naive.level,
        )
    effective = n / inflation
    bounds = wilson_bounds(naive.estimate * effective, effective, level=naive.level)
    return Estimate(naive.estimate, *bounds, naive.level, n, naive.n_missing, method)


def _unclustered(naive: Estimate, successes: int, count: int) -> ClusteredProportion:
    reason = ONE_CLUSTER if naive.valid else naive.reason
    none = refused(
        reason,
        method="proportion; over patients",
        n_used=naive.n_used,
        n_missing=naive.n_missing,
        level=naive.level,
    )
    return ClusteredProportion(
        none, none, none, naive, NAN, NAN, NAN, NAN, NAN, NAN, NAN, successes, count
    )


def clustered_proportion_of_rows(
    is_success: ArrayLike, cluster: ArrayLike, *, level: float = 0.95
) -> ClusteredProportion:
    """Return the proportion of true rows (n,) by `cluster` (n,); missing rows are counted."""
    values = np.asarray(is_success, dtype=float)
    known = np.isfinite(values)
    codes, count = cluster_codes(np.asarray(cluster)[known])
    sizes = np.bincount(codes, minlength=count)
    sums = cluster_sums(values[known], codes, count)
    return clustered_proportion(sums, sizes, level=level, n_missing=int((~known).sum()))


@dataclass(frozen=True, slots=True)
class ClusteredComparison:
    """Homogeneity of proportions between groups of clusters."""

    statistic: float
    degrees_of_freedom: int
    p_value: float
    valid: bool
    reason: str


def rao_scott_test(
    successes: ArrayLike, sizes: ArrayLike, group: ArrayLike
) -> ClusteredComparison:
    """Return the chi-square of homogeneity with counts divided by each group's design effect.

    Source: Rao JNK, Scott AJ. Biometrics 1992;48:577-585, doi:10.2307/2532311.
    """
    y, m = np.asarray(successes, dtype=float), np.asarray(sizes, dtype=float)
    codes, count = cluster_codes(group)
    per_group = [clustered_proportion(y[codes == g], m[codes == g]) for g in range(count)]
    effects = np.array([one.design_effect for one in per_group])
    if count < 2 or not np.all(np.isfinite(effects)) or np.any(effects <= 0):
        reason = "a group has too few clusters or no variation"
        return ClusteredComparison(NAN, max(count - 1, 0), NAN, False, reason)
    totals: FloatArray = np.bincount(codes, weights=m) / effects
    events: FloatArray = np.bincount(codes, weights=y) / effects
    p = events.sum() / totals.sum()
    statistic = float(np.sum((events - totals * p) ** 2 / (totals * p * (1 - p))))
    tail = float(stats.chi2.sf(statistic, count - 1))
    return ClusteredComparison(statistic, count - 1, tail, True, "")
