"""Lin's concordance of two methods (A8)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement.pairs import (
    MINIMUM_PAIRS,
    complete_pairs,
    too_few,
)
from lengthwise.statistics.clusters import (
    FloatArray,
    cluster_sums,
)
from lengthwise.statistics.resampling import cluster_jackknife, jackknife_standard_error
from lengthwise.statistics.results import NAN, Estimate


@dataclass(frozen=True, slots=True)
class Concordance:
    """Lin's concordance: `z_interval` is the one for reports, `asymptotic` the plain one.

    `accuracy` is C_b; concordance = Pearson's r * C_b. r itself is no measure of agreement.
    """

    z_interval: Estimate
    asymptotic: Estimate
    accuracy: float
    pearson: float
    standard_error: float


def concordance(
    method: ArrayLike,
    reference: ArrayLike,
    *,
    patient: ArrayLike | None = None,
    level: float = 0.95,
    minimum_pairs: int = MINIMUM_PAIRS,
) -> Concordance:
    """Return Lin's concordance of `method` (n,) and `reference` (n,), moments with 1/n.

    Without `patient` the error is Lin's with n-2; with it, a jackknife by patient and t.
    Source: Lin LI. Biometrics 1989;45:255-268, doi:10.2307/2532051, corrected in Biometrics
    2000;56:324, doi:10.1111/j.0006-341X.2000.00324.x.
    """
    pairs = complete_pairs(method, reference)
    x, y = pairs.method, pairs.reference
    n, name = pairs.n_used, "concordance"
    codes, count = pairs.codes(patient)
    reason = too_few(n, max(minimum_pairs, 3)) or too_few(count, 3, what="patients")
    if not reason and (np.ptp(x) == 0 or np.ptp(y) == 0):
        reason = "one method gave the same length every time"
    if reason:
        none = pairs.refused(reason, name, level)
        return Concordance(none, none, NAN, NAN, NAN)
    shift = float((x.mean() + y.mean()) / 2)
    u, v = x - shift, y - shift
    rows = np.column_stack([np.ones(n), u, v, u * u, v * v, u * v])
    sums = cluster_sums(rows, codes, count)
    ccc, r = (float(one) for one in _concordance_of(sums.sum(axis=0)))
    if patient is None:
        se, quantile = _lin_error(u, v, ccc, r), float(stats.norm.ppf((1 + level) / 2))
    else:
        left_out = cluster_jackknife(sums, lambda one: _concordance_of(one)[0][..., None])
        se = float(jackknife_standard_error(left_out)[0])
        quantile = float(stats.t.ppf((1 + level) / 2, count - 1))
    low, high = _z_bounds(ccc, quantile * se)
    words = "Lin's error" if patient is None else "patient jackknife"
    counts = (level, n, pairs.n_missing)
    return Concordance(
        Estimate(ccc, low, high, *counts, f"{name}; z scale, {words}"),
        pairs.around(ccc, quantile * se, level, f"{name}; {words}"),
        ccc / r if r else NAN,
        r,
        se,
    )


def _z_bounds(ccc: float, reach: float) -> tuple[float, float]:
    """Return bounds on Fisher's scale; full concordance has no width left."""
    if ccc >= 1:
        return 1.0, 1.0
    z, half = np.arctanh(ccc), reach / (1 - ccc**2)
    return float(np.tanh(z - half)), float(np.tanh(z + half))


def _concordance_of(sums: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return concordance and Pearson's r from sums of 1, x, y, x^2, y^2, xy (..., 6)."""
    n, x, y, xx, yy, xy = (sums[..., i] for i in range(6))
    sxx, syy, sxy = xx / n - (x / n) ** 2, yy / n - (y / n) ** 2, xy / n - x * y / n**2
    return 2 * sxy / (sxx + syy + ((x - y) / n) ** 2), sxy / np.sqrt(sxx * syy)


def _lin_error(x: FloatArray, y: FloatArray, ccc: float, r: float) -> float:
    n = len(x)
    if r == 0 or 1 - ccc**2 <= 1e-15:
        return 0.0
    u2 = float((x.mean() - y.mean()) ** 2 / (x.std() * y.std()))
    variance = (
        (1 - r**2) * ccc**2 * (1 - ccc**2) / r**2
        + 2 * ccc**3 * (1 - ccc) * u2 / r
        - ccc**4 * u2**2 / (2 * r**2)
    ) / (n - 2)
    return float(np.sqrt(max(variance, 0.0)))
