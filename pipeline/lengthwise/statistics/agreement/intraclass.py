"""Intraclass correlations of several readings per canal, all forms named (A8)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement.method_error import covariance_from_sums
from lengthwise.statistics.agreement.pairs import too_few
from lengthwise.statistics.clusters import (
    FloatArray,
    cluster_codes,
    cluster_sums,
    one_way_anova,
)
from lengthwise.statistics.resampling import cluster_jackknife, jackknife_standard_error
from lengthwise.statistics.results import NAN, Estimate, refused

FORMS = ("ICC(1,1)", "ICC(A,1)", "ICC(C,1)", "ICC(1,k)", "ICC(A,k)", "ICC(C,k)")
EQUAL = "all rows have the same mean, so there is nothing to correlate"


@dataclass(frozen=True, slots=True)
class IntraclassCorrelations:
    """Six forms: (1) one-way, (A) agreement, (C) consistency; 1 reading or the mean of k.

    In the naming of Shrout and Fleiss: (1,1), (2,1), (3,1), (1,k), (2,k), (3,k). `sem_*` are
    standard errors of measurement in the unit of the readings.
    """

    forms: tuple[Estimate, ...]
    ms_rows: float
    ms_columns: float
    ms_within: float
    ms_error: float
    sem_agreement: float
    sem_consistency: float
    n_readings: int

    def form(self, name: str) -> Estimate:
        """Return one form by its name in `FORMS`."""
        return self.forms[FORMS.index(name)]


def intraclass_correlations(
    table: ArrayLike,
    *,
    patient: ArrayLike | None = None,
    level: float = 0.95,
    minimum_rows: int = 3,
) -> IntraclassCorrelations:
    """Return all forms from `table` (n canals, k readers or methods).

    Rows with a missing reading are set aside. Without `patient` the intervals are the F
    intervals for independent rows; with it, a jackknife by patient on the scale of
    Fisher's z. Sources: Shrout PE, Fleiss JL. Psychol Bull 1979;86:420-428,
    doi:10.1037/0033-2909.86.2.420; McGraw KO, Wong SP. Psychol Methods 1996;1:30-46,
    doi:10.1037/1082-989X.1.1.30.
    """
    readings = np.asarray(table, dtype=float)
    if readings.ndim != 2 or readings.shape[1] < 2:
        raise ValueError("table must be (n, k) with k at least 2.")
    known = np.isfinite(readings).all(axis=1)
    kept, missing = readings[known], int((~known).sum())
    n, k = kept.shape
    reason = too_few(n, max(minimum_rows, 2), what="rows")
    if not reason and np.ptp(kept.mean(axis=1)) <= 1e-12 * (1 + np.max(np.abs(kept))):
        reason = EQUAL
    codes, count = cluster_codes(
        np.arange(n) if patient is None else np.asarray(patient)[known]
    )
    if not reason and count < 3:
        reason = too_few(count, 3, what="patients")
    if reason:
        none = refused(reason, method="ICC", n_used=n, n_missing=missing, level=level)
        return IntraclassCorrelations((none,) * 6, NAN, NAN, NAN, NAN, NAN, NAN, k)
    shifted = kept - kept.mean()
    products = (shifted[:, :, None] * shifted[:, None, :]).reshape(n, -1)
    sums = cluster_sums(np.column_stack([np.ones(n), shifted, products]), codes, count)
    squares = _mean_squares(sums.sum(axis=0), k)
    values = _forms(squares, np.array(float(n)), k)
    words = "F interval" if patient is None else "patient jackknife, z scale"
    bounds = (
        _exact_bounds(squares, values, n, k, level)
        if patient is None
        else _jackknife_bounds(sums, values, k, level)
    )
    forms = tuple(
        Estimate(float(v), *b, level, n, missing, f"{name}; {words}")
        for name, v, b in zip(FORMS, values, bounds, strict=True)
    )
    return _described(forms, squares, n, k)


def _described(
    forms: tuple[Estimate, ...], squares: FloatArray, n: int, k: int
) -> IntraclassCorrelations:
    """Return the forms with their mean squares and standard errors of measurement."""
    rows, columns, within, error = (float(one) for one in squares)
    agreement = float(np.sqrt(max((columns - error) / n, 0.0) + error))
    return IntraclassCorrelations(
        forms, rows, columns, within, error, agreement, float(np.sqrt(error)), k
    )


def _mean_squares(sums: FloatArray, k: int) -> FloatArray:
    """Return MS of rows, columns, within rows and error, (..., 4) turned first, from sums."""
    n = sums[..., 0]
    means, covariance = covariance_from_sums(sums, k)
    trace = np.trace(covariance, axis1=-2, axis2=-1)
    whole = covariance.sum(axis=(-2, -1))
    rows = whole / k
    columns = n * means.var(axis=-1, ddof=1)
    error = np.maximum(trace - whole / k, 0.0) / (k - 1)
    within = (columns * (k - 1) + error * (n - 1) * (k - 1)) / (n * (k - 1))
    return np.stack([rows, columns, within, error])


def _forms(squares: FloatArray, n: FloatArray, k: int) -> FloatArray:
    rows, columns, within, error = squares
    one = (rows - within) / (rows + (k - 1) * within)
    agreement = (rows - error) / (rows + (k - 1) * error + k * (columns - error) / n)
    consistency = (rows - error) / (rows + (k - 1) * error)
    safe = np.where(rows > 0, rows, np.nan)
    one_k = (rows - within) / safe
    agreement_k = (rows - error) / (rows + (columns - error) / n)
    return np.stack([one, agreement, consistency, one_k, agreement_k, (rows - error) / safe])


Bounds = list[tuple[float, float]]


def _exact_bounds(
    squares: FloatArray, values: FloatArray, n: int, k: int, level: float
) -> Bounds:
    rows, columns, within, error = (float(one) for one in squares)
    tail = (1 + level) / 2

    def ratio_bounds(f: float, d1: float, d2: float) -> tuple[float, float]:
        return f / float(stats.f.ppf(tail, d1, d2)), f * float(stats.f.ppf(tail, d2, d1))

    def single(low: float, high: float) -> tuple[float, float]:
        return tuple((f - 1) / (f + k - 1) if np.isfinite(f) else 1.0 for f in (low, high))  # type: ignore[return-value]

    def average(low: float, high: float) -> tuple[float, float]:
        return tuple(1 - 1 / f if f > 0 else -np.inf for f in (low, high))  # type: ignore[return-value]

    def divided(below: float) -> float:
        return rows / below if below > 0 else np.inf

    first = ratio_bounds(divided(within), n - 1, n * (k - 1))
    third = ratio_bounds(divided(error), n - 1, (n - 1) * (k - 1))
    second = _agreement_bounds(rows, columns, error, float(values[1]), n, k, tail)
    stepped = tuple(k * one / (1 + (k - 1) * one) for one in second)
    return [
        single(*first),
        second,
        single(*third),
        average(*first),
        (stepped[0], stepped[1]),
        average(*third),
    ]


def _agreement_bounds(
    rows: float, columns: float, error: float, icc: float, n: int, k: int, tail: float
) -> tuple[float, float]:
    """Return McGraw and Wong's interval of ICC(A,1) with Satterthwaite's freedom."""
    if error == 0 and columns == 0:
        return 1.0, 1.0
    a = k * icc / (n * (1 - icc))
    b = 1 + k * icc * (n - 1) / (n * (1 - icc))
    freedom = (a * columns + b * error) ** 2 / (
        (a * columns) ** 2 / (k - 1) + (b * error) ** 2 / ((n - 1) * (k - 1))
    )
    low_f = float(stats.f.ppf(tail, n - 1, freedom))
    high_f = float(stats.f.ppf(tail, freedom, n - 1))
    rest = k * columns + (k * n - k - n) * error
    low = n * (rows - low_f * error) / (low_f * rest + n * rows)
    high = n * (high_f * rows - error) / (rest + n * high_f * rows)
    return low, high


def _jackknife_bounds(sums: FloatArray, values: FloatArray, k: int, level: float) -> Bounds:
    def statistic(one: FloatArray) -> FloatArray:
        forms = _forms(_mean_squares(one, k), one[..., 0], k)
        return np.moveaxis(np.arctanh(np.clip(forms, -1 + 1e-12, 1 - 1e-12)), 0, -1)

    errors = jackknife_standard_error(cluster_jackknife(sums, statistic))
    half = stats.t.ppf((1 + level) / 2, len(sums) - 1) * errors
    centre = np.arctanh(np.clip(values, -1 + 1e-12, 1 - 1e-12))
    low, high = np.tanh(centre - half), np.tanh(centre + half)
    return [(float(a), float(b)) for a, b in zip(low, high, strict=True)]


@dataclass(frozen=True, slots=True)
class OneWayIntraclass:
    """One-way ICC with unequal numbers of readings per subject."""

    single: Estimate
    average: float
    ms_between: float
    ms_within: float
    n0: float


def one_way_intraclass(
    values: ArrayLike, cluster: ArrayLike, *, level: float = 0.95
) -> OneWayIntraclass:
    """Return ICC(1,1) of `values` (n,) by `cluster` (n,), its F interval, and ICC(1,n0).

    The interval is approximate when numbers differ. Source: Donner A. Int Stat Rev
    1986;54:67-82, doi:10.2307/1403259.
    """
    array = np.asarray(values, dtype=float)
    known = np.isfinite(array)
    anova = one_way_anova(array[known], np.asarray(cluster)[known])
    missing, n = int((~known).sum()), anova.n_used
    name = "ICC(1,1); analysis of variance, F interval"
    if not anova.valid:
        none = refused(anova.reason, method=name, n_used=n, n_missing=missing, level=level)
        return OneWayIntraclass(none, NAN, anova.ms_between, anova.ms_within, anova.n0)
    d1, d2 = anova.n_clusters - 1, n - anova.n_clusters
    if anova.ms_within > 0:
        f = anova.ms_between / anova.ms_within
        ends = f / stats.f.ppf([(1 + level) / 2, (1 - level) / 2], d1, d2)
        low, high = (float((one - 1) / (one + anova.n0 - 1)) for one in ends)
    else:
        low, high = 1.0, 1.0
    single = Estimate(anova.icc, low, high, level, n, missing, name)
    average = 1 - anova.ms_within / anova.ms_between if anova.ms_between > 0 else NAN
    return OneWayIntraclass(single, average, anova.ms_between, anova.ms_within, anova.n0)
