"""Shares of canals within a tolerance, and two methods' shares compared (A6)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from lengthwise.statistics.agreement.pairs import complete_pairs, too_few
from lengthwise.statistics.clusters import ONE_CLUSTER, FloatArray, cluster_codes, cluster_sums
from lengthwise.statistics.proportions import ClusteredProportion, clustered_proportion_of_rows
from lengthwise.statistics.results import NAN, Estimate, refused

MINIMUM_DENOMINATOR = 10


def is_within(difference_mm: ArrayLike, threshold_mm: float) -> NDArray[np.bool_]:
    """Return whether |difference| (n,) is at most the threshold, after rounding to 0.01 mm.

    16.1 - 15.6 exceeds 0.5 in binary arithmetic; the rounding undoes that. Missing
    differences must be set aside before: they are not within.
    """
    size = np.round(np.abs(np.asarray(difference_mm, dtype=float)), 2)
    return np.asarray(size <= threshold_mm + 1e-9)


@dataclass(frozen=True, slots=True)
class ShareWithin:
    """Share of canals whose difference lies within `threshold_mm`, inclusive.

    `share` has the interval that allows for patients where they are given, else Wilson's.
    `clustered` holds the parts and is None for independent canals.
    """

    share: Estimate
    n_within: int
    threshold_mm: float
    clustered: ClusteredProportion | None


def share_within(
    method: ArrayLike,
    reference: ArrayLike,
    *,
    threshold_mm: float,
    patient: ArrayLike | None = None,
    level: float = 0.95,
    minimum_denominator: int = MINIMUM_DENOMINATOR,
) -> ShareWithin:
    """Return the share of pairs (n,) within the threshold; missing pairs are set aside."""
    pairs = complete_pairs(method, reference)
    within = is_within(pairs.difference, threshold_mm)
    labels = np.arange(pairs.n_used) if patient is None else np.asarray(patient)[pairs.known]
    found = clustered_proportion_of_rows(within.astype(float), labels, level=level)
    base = found.naive if patient is None else found.wilson_icc
    reason = too_few(pairs.n_used, max(minimum_denominator, 1), what="canals")
    kept = None if patient is None else found
    if reason or not base.valid:
        none = refused(
            reason or base.reason,
            method=base.method,
            n_used=pairs.n_used,
            n_missing=pairs.n_missing,
            level=level,
        )
        return ShareWithin(none, int(within.sum()), threshold_mm, kept)
    share = Estimate(
        base.estimate,
        base.lower,
        base.upper,
        level,
        pairs.n_used,
        pairs.n_missing,
        base.method,
    )
    return ShareWithin(share, int(within.sum()), threshold_mm, kept)


@dataclass(frozen=True, slots=True)
class PairedShares:
    """Two shares on the same canals: first - second, with a patient-robust t interval.

    `table` counts both, first only, second only, neither. Obuchowski's and Durkalski's
    chi-squares allow for patients; McNemar's does not and is given for comparison only.
    """

    difference: Estimate
    first: float
    second: float
    table: tuple[int, int, int, int]
    standard_error_cr0: float
    standard_error_cr1: float
    obuchowski_statistic: float
    obuchowski_p: float
    durkalski_statistic: float
    mcnemar_statistic: float
    n_clusters: int


def paired_shares(
    first: ArrayLike,
    second: ArrayLike,
    patient: ArrayLike,
    *,
    level: float = 0.95,
    minimum_denominator: int = MINIMUM_DENOMINATOR,
) -> PairedShares:
    """Return the difference of the shares of `first` (n,) and `second` (n,), 0/1 or missing.

    Sources: Obuchowski NA. Stat Med 1998;17:1495-1507,
    doi:10.1002/(SICI)1097-0258(19980715)17:13<1495::AID-SIM863>3.0.CO;2-I; Durkalski VL et
    al. Stat Med 2003;22:2417-2428, doi:10.1002/sim.1438.
    """
    a, b = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    known = np.isfinite(a) & np.isfinite(b)
    missing, a, b = int((~known).sum()), a[known], b[known]
    codes, count = cluster_codes(np.asarray(patient)[known])
    n = len(a)
    table = _table(a, b)
    name = "difference of paired shares; CR1 over patients, t interval"
    reason = too_few(n, max(minimum_denominator, 2), what="canals")
    if not reason and count < 2:
        reason = ONE_CLUSTER
    if reason:
        none = refused(reason, method=name, n_used=n, n_missing=missing, level=level)
        return PairedShares(none, NAN, NAN, table, NAN, NAN, NAN, NAN, NAN, NAN, count)
    gap = a - b
    difference = float(gap.mean())
    by_patient = cluster_sums(np.column_stack([gap, np.ones(n)]), codes, count)
    scores = by_patient[:, 0] - difference * by_patient[:, 1]
    cr0 = float(np.sqrt(scores @ scores)) / n
    cr1 = cr0 * float(np.sqrt(count / (count - 1)))
    note = "" if cr0 > 0 else "no variation between patients: no interval"
    half = float(stats.t.ppf((1 + level) / 2, count - 1)) * cr1 if cr0 > 0 else NAN
    estimate = Estimate(
        difference, difference - half, difference + half, level, n, missing, name, True, note
    )
    statistics = _statistics(by_patient, table, difference, n, count)
    return PairedShares(
        estimate, float(a.mean()), float(b.mean()), table, cr0, cr1, *statistics, count
    )


def _table(a: FloatArray, b: FloatArray) -> tuple[int, int, int, int]:
    both = int(np.sum((a == 1) & (b == 1)))
    first_only = int(np.sum((a == 1) & (b == 0)))
    second_only = int(np.sum((a == 0) & (b == 1)))
    return both, first_only, second_only, len(a) - both - first_only - second_only


def _statistics(
    by_patient: FloatArray,
    table: tuple[int, int, int, int],
    difference: float,
    n: int,
    count: int,
) -> tuple[float, float, float, float]:
    """Return Obuchowski's chi-square and p, Durkalski's and McNemar's chi-square."""
    gaps = by_patient[:, 0]
    null_variance = count / ((count - 1) * n**2) * float(gaps @ gaps)
    obuchowski = difference**2 / null_variance if null_variance > 0 else NAN
    shares = gaps / by_patient[:, 1]
    spread = float(shares @ shares)
    durkalski = float(shares.sum()) ** 2 / spread if spread > 0 else NAN
    discordant = table[1] + table[2]
    mcnemar = (table[1] - table[2]) ** 2 / discordant if discordant else NAN
    return obuchowski, float(stats.chi2.sf(obuchowski, 1)), durkalski, mcnemar
