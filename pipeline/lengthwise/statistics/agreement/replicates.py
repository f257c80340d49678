"""Replicate readings: repeatability of a method and limits from replicate data (A3)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement.mover import limit_distances, variance_interval
from lengthwise.statistics.agreement.pairs import (
    MINIMUM_PAIRS,
    complete_pairs,
    too_few,
    warning_for,
)
from lengthwise.statistics.agreement.repeat_bounds import bounds_by_patient
from lengthwise.statistics.clusters import (
    FloatArray,
    OneWayAnova,
    cluster_codes,
    cluster_sums,
    one_way_anova,
)
from lengthwise.statistics.results import NAN, Estimate, refused


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Spread of repeated readings of one canal by one method, in the unit of the lengths.

    `repeatability_coefficient` is 1.96 sqrt(2) s_w: two readings of one canal differ by less
    in 95 of 100 pairs.
    """

    within_subject_sd: Estimate
    repeatability_coefficient: Estimate
    measurement_error: float
    ms_between: float
    ms_within: float
    degrees_of_freedom: int
    n_subjects: int


def repeatability(
    values: ArrayLike,
    subject: ArrayLike,
    *,
    patient: ArrayLike | None = None,
    level: float = 0.95,
    minimum_subjects: int = 2,
) -> Repeatability:
    """Return the within-subject SD of readings `values` (n,) of `subject` (n,).

    Readings of one subject must be repeats under the same conditions; numbers of readings
    may differ; missing readings are set aside. Without `patient` the interval is by
    chi-square, which asks for normal errors and the same SD in every subject; with it, whole
    patients are left out in turn (log SD, t), which asks for neither. Source: Bland JM,
    Altman DG. BMJ 1996;313:744, doi:10.1136/bmj.313.7059.744.
    """
    array = np.asarray(values, dtype=float)
    known = np.isfinite(array)
    missing = int((~known).sum())
    labels = np.asarray(subject)[known]
    anova = one_way_anova(array[known], labels)
    freedom = anova.n_used - anova.n_clusters
    kind = "chi-square interval" if patient is None else "patient jackknife, log scale"
    name = f"within-subject SD; analysis of variance, {kind}"
    reason = too_few(anova.n_clusters, minimum_subjects, what="subjects")
    if not reason and (freedom < 1 or not np.isfinite(anova.ms_within)):
        reason = "no subject has two readings"
    if not reason and patient is not None:
        people = cluster_codes(np.asarray(patient)[known])[1]
        reason = too_few(people, minimum_subjects, what="patients")
    if reason:
        none = refused(reason, method=name, n_used=anova.n_used, n_missing=missing, level=level)
        return Repeatability(none, none, NAN, NAN, NAN, freedom, anova.n_clusters)
    sw = float(np.sqrt(anova.ms_within))
    if patient is None:
        tails = stats.chi2.ppf([(1 + level) / 2, (1 - level) / 2], freedom)
        low, high = (float(one) for one in sw * np.sqrt(freedom / tails))
    else:
        low, high = bounds_by_patient(
            array[known], labels, np.asarray(patient)[known], sw, level
        )
    z = float(stats.norm.ppf(0.975))
    factor = z * float(np.sqrt(2))
    n = anova.n_used
    counts = (level, n, missing)
    spread = Estimate(sw, low, high, *counts, name)
    words = f"repeatability coefficient; {name}"
    coefficient = Estimate(factor * sw, factor * low, factor * high, *counts, words)
    squares, clusters = (anova.ms_between, anova.ms_within), anova.n_clusters
    return Repeatability(spread, coefficient, z * sw, *squares, freedom, clusters)


@dataclass(frozen=True, slots=True)
class ReplicateLimits:
    """Limits for single readings, worked out from subjects with several readings.

    The centre is the mean of the subjects' mean differences; `variance_interval` belongs to
    the total variance. `standard_error_1999` is the root of var(bias) + k^2 var(SD).
    """

    bias: Estimate
    standard_deviation: float
    lower: Estimate
    upper: Estimate
    variance_of_means: float
    variance_interval: tuple[float, float]
    within_variance_method: float
    within_variance_reference: float
    variance_of_sd: float
    standard_error_1999: float
    n_subjects: int


@dataclass(frozen=True, slots=True)
class _Readings:
    """Means, sizes and pooled within variance of one method's readings by subject."""

    means: FloatArray
    sizes: FloatArray
    within: float
    freedom: float


def _readings(values: FloatArray, codes: np.ndarray, count: int) -> _Readings:
    sizes = np.bincount(codes, minlength=count).astype(float)
    means = cluster_sums(values, codes, count) / np.where(sizes > 0, sizes, np.nan)
    squares = float(np.sum((values - means[codes]) ** 2))
    freedom = float(np.sum(np.maximum(sizes - 1, 0)))
    return _Readings(means, sizes, squares / freedom if freedom else 0.0, freedom)


def replicate_limits_constant(
    method: ArrayLike,
    method_subject: ArrayLike,
    reference: ArrayLike,
    reference_subject: ArrayLike,
    *,
    multiplier: float = 1.959963984540054,
    level: float = 0.95,
    minimum_subjects: int = MINIMUM_PAIRS,
) -> ReplicateLimits:
    """Return limits when the true length stays the same over a subject's readings.

    Readings of the two methods need not be paired and their numbers may differ. Subjects
    must be independent and seen by both methods. Sources: Bland JM, Altman DG. Stat Methods
    Med Res 1999;8:135-160 section 5, doi:10.1177/096228029900800204; intervals: Zou GY. Stat
    Methods Med Res 2013;22:630-642, doi:10.1177/0962280211402548, with var(mean)/n for the
    bias, so that they are narrower than the printed ones of 1999.
    """
    x, y = np.asarray(method, dtype=float), np.asarray(reference, dtype=float)
    known_x, known_y = np.isfinite(x), np.isfinite(y)
    missing = int((~known_x).sum() + (~known_y).sum())
    labels = np.concatenate(
        [np.asarray(method_subject)[known_x], np.asarray(reference_subject)[known_y]]
    )
    codes, count = cluster_codes(labels)
    split = int(known_x.sum())
    first = _readings(x[known_x], codes[:split], count)
    second = _readings(y[known_y], codes[split:], count)
    both = (first.sizes > 0) & (second.sizes > 0)
    reason = too_few(int(both.sum()), max(minimum_subjects, 2), what="subjects")
    if not reason and not both.all():
        reason = "some subjects were read by one method only; leave them out first"
    if reason:
        return _refused(reason, len(labels), missing, level, int(both.sum()))
    shares = (1 - float(np.mean(1 / first.sizes)), 1 - float(np.mean(1 / second.sizes)))
    return _limits(
        first.means - second.means,
        np.array([shares[0], shares[1]]),
        np.array([first.within, second.within]),
        np.array([first.freedom, second.freedom]),
        multiplier=multiplier,
        level=level,
        counts=(len(labels), missing),
    )


def replicate_limits_varying(
    method: ArrayLike,
    reference: ArrayLike,
    subject: ArrayLike,
    *,
    multiplier: float = 1.959963984540054,
    level: float = 0.95,
    minimum_subjects: int = MINIMUM_PAIRS,
) -> ReplicateLimits:
    """Return limits when the true length may change between a subject's paired readings.

    `method` and `reference` (n,) are read together, row by row. Sources: Bland JM, Altman
    DG. J Biopharm Stat 2007;17:571-582, doi:10.1080/10543400701329422; the centre and the
    intervals follow Zou GY. Stat Methods Med Res 2013;22:630-642,
    doi:10.1177/0962280211402548 (mean of subject means, harmonic mean of numbers).
    """
    pairs = complete_pairs(method, reference)
    codes, count = cluster_codes(np.asarray(subject)[pairs.known])
    reason = too_few(count, max(minimum_subjects, 2), what="subjects")
    if reason:
        return _refused(reason, pairs.n_used, pairs.n_missing, level, count)
    own = _readings(pairs.difference, codes, count)
    share = 1 - float(np.mean(1 / own.sizes))
    return _limits(
        own.means,
        np.array([share]),
        np.array([own.within]),
        np.array([own.freedom]),
        multiplier=multiplier,
        level=level,
        counts=(pairs.n_used, pairs.n_missing),
    )


@dataclass(frozen=True, slots=True)
class MomentLimits:
    """Limits weighted by reading; no intervals belong to them (`replicate_limits_varying`)."""

    bias: float
    standard_deviation: float
    lower: float
    upper: float
    anova: OneWayAnova


def reading_weighted_limits(
    method: ArrayLike,
    reference: ArrayLike,
    subject: ArrayLike,
    *,
    multiplier: float = 1.959963984540054,
) -> MomentLimits:
    """Return the limits of 2007: mean of all differences, components from the ANOVA.

    Incomplete pairs are set aside; where there is no component within subjects the fields
    are NaN and `anova.reason` says why. Source: Bland JM, Altman DG. J Biopharm Stat
    2007;17:571-582, doi:10.1080/10543400701329422.
    """
    pairs = complete_pairs(method, reference)
    anova = one_way_anova(pairs.difference, np.asarray(subject)[pairs.known])
    if not np.isfinite(anova.variance_between):
        return MomentLimits(NAN, NAN, NAN, NAN, anova)
    bias = float(pairs.difference.mean())
    sd = float(np.sqrt(max(anova.variance_between, 0.0) + anova.ms_within))
    return MomentLimits(bias, sd, bias - multiplier * sd, bias + multiplier * sd, anova)


def _limits(
    means: FloatArray,
    shares: FloatArray,
    within: FloatArray,
    freedom: FloatArray,
    *,
    multiplier: float,
    level: float,
    counts: tuple[int, int],
) -> ReplicateLimits:
    """Return limits from subject means and the within variances with their shares."""
    n, k = len(means), multiplier
    spread = float(means.var(ddof=1))
    squares = np.append(spread, within)
    weights, df = np.append(1.0, shares), np.append(n - 1.0, freedom)
    interval = variance_interval(squares, weights, df, level=level)
    sd, bias = float(np.sqrt(interval.variance)), float(means.mean())
    half = float(stats.norm.ppf((1 + level) / 2) * np.sqrt(spread / n))
    inward, outward = limit_distances(interval, half, k)
    with_freedom = df > 0
    terms = (weights * squares)[with_freedom] ** 2 / df[with_freedom]
    of_sd = float(np.sum(terms) / (2 * interval.variance)) if interval.variance > 0 else 0.0
    t_half = float(stats.t.ppf((1 + level) / 2, n - 1) * np.sqrt(spread / n))
    note = warning_for(n, what="subjects")

    def given(value: float, low: float, high: float, name: str) -> Estimate:
        return Estimate(value, low, high, level, *counts, name, True, note)

    name = "limit of agreement from replicates; MOVER"
    low, high = bias - k * sd, bias + k * sd
    return ReplicateLimits(
        given(bias, bias - t_half, bias + t_half, "bias; mean of subject means, t interval"),
        sd,
        given(low, low - outward, low + inward, name),
        given(high, high - inward, high + outward, name),
        spread,
        (interval.lower, interval.upper),
        float(within[0]),
        float(within[-1]),
        of_sd,
        float(np.sqrt(spread / n + k**2 * of_sd)),
        n,
    )


def _refused(reason: str, n: int, missing: int, level: float, count: int) -> ReplicateLimits:
    name = "limit of agreement from replicates"
    none = refused(reason, method=name, n_used=n, n_missing=missing, level=level)
    return ReplicateLimits(none, NAN, none, none, NAN, (NAN, NAN), NAN, NAN, NAN, NAN, count)
