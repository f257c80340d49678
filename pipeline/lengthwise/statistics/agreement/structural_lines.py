"""Lines between two methods that both carry error: Deming and Passing-Bablok (A5)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement.pairs import MINIMUM_PAIRS, complete_pairs, too_few
from lengthwise.statistics.clusters import FloatArray, cluster_sums
from lengthwise.statistics.resampling import cluster_jackknife, jackknife_standard_error
from lengthwise.statistics.results import NAN, Estimate, refused

# Above this the list of slopes between all pairs of points would not fit into 1 GB.
MAXIMUM_POINTS = 5000


@dataclass(frozen=True, slots=True)
class StructuralLine:
    """method = intercept + slope * reference; slope 1 and intercept 0 mean full agreement.

    Where a line has no interval its bounds are NaN and `reason` says why.
    """

    slope: Estimate
    intercept: Estimate
    standard_error_slope: float
    standard_error_intercept: float
    variance_ratio: float


def deming_line(
    reference: ArrayLike,
    method: ArrayLike,
    *,
    variance_ratio: float = 1.0,
    patient: ArrayLike | None = None,
    level: float = 0.95,
    minimum_pairs: int = MINIMUM_PAIRS,
) -> StructuralLine:
    """Return the Deming line of `method` (n,) on `reference` (n,).

    `variance_ratio` is the error variance of the method over that of the reference, stated
    beforehand or from replicates. The SEs leave out one pair, or one `patient`, at a time;
    t has n-2, or G-2, degrees of freedom. Source: Linnet K. Clin Chem 1998;44:1024-1031,
    doi:10.1093/clinchem/44.5.1024.
    """
    if not variance_ratio > 0:
        raise ValueError("variance_ratio must be above 0.")
    pairs = complete_pairs(method, reference)
    x, y = pairs.reference, pairs.method
    codes, count = pairs.codes(patient)
    reason = too_few(len(x), max(minimum_pairs, 3))
    if patient is not None and not reason:
        reason = too_few(count, max(minimum_pairs, 3), what="patients")
    if not reason and (np.ptp(x) == 0 or np.ptp(y) == 0):
        reason = "one method gave the same length every time, so there is no line"
    if reason:
        return _refused_line(reason, "Deming", len(x), pairs.n_missing, level)
    shift_x, shift_y = float(x.mean()), float(y.mean())
    u, v = x - shift_x, y - shift_y
    rows = np.column_stack([np.ones(len(x)), u, v, u * u, v * v, u * v])

    def statistic(sums: FloatArray) -> FloatArray:
        slope, intercept = _deming_of_sums(sums, variance_ratio)
        return np.stack([slope, intercept + shift_y - slope * shift_x], axis=-1)

    sums = cluster_sums(rows, codes, count)
    point = statistic(sums.sum(axis=0))
    if not np.isfinite(point).all():
        reason = "the two methods do not vary together, so the line is not defined"
        return _refused_line(reason, "Deming", len(x), pairs.n_missing, level)
    errors = jackknife_standard_error(cluster_jackknife(sums, statistic))
    half = stats.t.ppf((1 + level) / 2, count - 2) * errors
    name = "Deming; jackknife, t interval"
    slope, intercept = (pairs.around(point[i], half[i], level, name) for i in range(2))
    return StructuralLine(slope, intercept, float(errors[0]), float(errors[1]), variance_ratio)


def _deming_of_sums(sums: FloatArray, ratio: float) -> tuple[FloatArray, FloatArray]:
    """Return slope and intercept from sums of 1, x, y, x^2, y^2, xy (..., 6)."""
    n, x, y, xx, yy, xy = (sums[..., i] for i in range(6))
    sxx, syy, sxy = xx - x**2 / n, yy - y**2 / n, xy - x * y / n
    gap = syy - ratio * sxx
    root = np.sqrt(gap**2 + 4 * ratio * sxy**2)
    defined = np.abs(sxy) > 1e-12 * (sxx + syy)
    slope = np.where(defined, (gap + root) / (2 * np.where(defined, sxy, 1.0)), np.nan)
    return slope, y / n - slope * x / n


def passing_bablok_line(
    reference: ArrayLike,
    method: ArrayLike,
    *,
    patient: ArrayLike | None = None,
    level: float = 0.95,
    minimum_pairs: int = MINIMUM_PAIRS,
) -> StructuralLine:
    """Return the Passing-Bablok line of `method` (n,) on `reference` (n,).

    Equal points are dropped, slopes of exactly -1 too, vertical ones count as infinite. The
    rank interval needs independent pairs: when a `patient` has several canals the line is
    given without an interval. Source: Passing H, Bablok W. J Clin Chem Clin Biochem
    1983;21:709-720, doi:10.1515/cclm.1983.21.11.709.
    """
    pairs = complete_pairs(method, reference)
    x, y = pairs.reference, pairs.method
    n = len(x)
    reason = too_few(n, max(minimum_pairs, 3))
    if n > MAXIMUM_POINTS:
        reason = f"more than {MAXIMUM_POINTS} pairs: use the Deming line"
    if not reason and (np.ptp(x) == 0 or np.ptp(y) == 0):
        reason = "one method gave the same length every time, so there is no line"
    if reason:
        return _refused_line(reason, "Passing-Bablok", n, pairs.n_missing, level)
    slopes, below = _sorted_slopes(x, y)
    slope = _shifted_median(slopes, below)
    if not np.isfinite(slope):
        reason = "most pairs of points lie above one another, so there is no line"
        return _refused_line(reason, "Passing-Bablok", n, pairs.n_missing, level)
    intercept = float(np.median(y - slope * x))
    repeated = pairs.codes(patient)[1] < n
    bounds = (NAN, NAN) if repeated else _rank_bounds(slopes, below, n, level)
    note = "no interval: several canals of one patient are not independent" if repeated else ""
    if not repeated and not np.isfinite(bounds).all():
        note = "too few pairs for an interval on both sides"
    other = [float(np.median(y - b * x)) if np.isfinite(b) else NAN for b in bounds]

    def given(value: float, lower: float, upper: float) -> Estimate:
        name = "Passing-Bablok; rank interval"
        return Estimate(value, lower, upper, level, n, pairs.n_missing, name, True, note)

    return StructuralLine(
        given(slope, *bounds), given(intercept, other[1], other[0]), NAN, NAN, 1.0
    )


def _sorted_slopes(x: FloatArray, y: FloatArray) -> tuple[FloatArray, int]:
    """Return the usable slopes in order, and how many lie below -1."""
    i, j = np.triu_indices(len(x), 1)
    dx, dy = x[j] - x[i], y[j] - y[i]
    # Lengths are recorded to 0.1 or 0.01 mm: differences below 1e-9 are equal readings.
    dx, dy = np.where(np.abs(dx) < 1e-9, 0.0, dx), np.where(np.abs(dy) < 1e-9, 0.0, dy)
    usable = (dx != 0) | (dy != 0)
    dx, dy = dx[usable], dy[usable]
    vertical = dx == 0
    slopes = np.where(vertical, np.inf, dy / np.where(vertical, 1.0, dx))
    # Exact comparison, as in the programs whose printed lines this one is held to.
    slopes = np.sort(slopes[slopes != -1.0])
    return slopes, int(np.searchsorted(slopes, -1.0))


def _shifted_median(slopes: FloatArray, below: int) -> float:
    count = len(slopes)
    if count == 0:
        return NAN
    if count % 2:
        return _rank(slopes, (count + 1) // 2 + below)
    return (_rank(slopes, count // 2 + below) + _rank(slopes, count // 2 + 1 + below)) / 2


def _rank(slopes: FloatArray, position: int) -> float:
    return float(slopes[position - 1]) if 1 <= position <= len(slopes) else NAN


def _rank_bounds(slopes: FloatArray, below: int, n: int, level: float) -> tuple[float, float]:
    spread = float(stats.norm.ppf((1 + level) / 2)) * np.sqrt(n * (n - 1) * (2 * n + 5) / 18)
    first = round((len(slopes) - spread) / 2)
    last = len(slopes) - first + 1
    return _rank(slopes, first + below), _rank(slopes, last + below)


def _refused_line(reason: str, name: str, n: int, missing: int, level: float) -> StructuralLine:
    none = refused(reason, method=name, n_used=n, n_missing=missing, level=level)
    return StructuralLine(none, none, NAN, NAN, NAN)
