"""Rows grouped by patient: codes, sums, one-way components, cluster-robust errors.

Canals of one patient resemble each other. Everything here works on sums by cluster, so that
100,000 canals cost a few array operations and no loop over patients.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from lengthwise.statistics.bell_mccaffrey import (
    by_roots,
    by_series,
    crossed_blocks,
    many_light_clusters,
)
from lengthwise.statistics.patterns import ClusteredRows, Design, codes_of, design_of
from lengthwise.statistics.results import NAN, Estimate, refused

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
ONE_CLUSTER = "all rows come from one patient, so their spread between patients is unknown"


def cluster_codes(cluster: ArrayLike) -> tuple[IntArray, int]:
    """Return codes 0..G-1 for the labels of `cluster` (n,), and G.

    Labels may be text or numbers and in any order. A missing label raises ValueError: a row
    without a patient cannot be placed, and must be set aside before.
    """
    codes, count = codes_of(label_array(cluster))
    if codes.size and codes.min() < 0:
        raise ValueError("cluster must hold no missing label.")
    return codes, count


def label_array(labels: ArrayLike) -> NDArray[Any]:
    """Return labels (n,) as an array: of a category its code, so that no text is compared.

    A missing category is a missing label.
    """
    if not isinstance(getattr(labels, "dtype", None), pd.CategoricalDtype):
        return np.asarray(labels)
    codes = np.asarray(pd.Series(labels).cat.codes)
    return np.where(codes < 0, NAN, codes) if codes.size and codes.min() < 0 else codes


def nested_codes(*levels: ArrayLike) -> list[tuple[IntArray, int]]:
    """Return codes for each level within all levels outside it, outermost first.

    A tooth number means a tooth only together with its patient; the codes make it so.
    """
    found: list[tuple[IntArray, int]] = []
    for level in levels:
        codes, count = cluster_codes(level)
        if found:
            codes, count = cluster_codes(found[-1][0] * count + codes)
        found.append((codes, count))
    return found


def cluster_sums(values: ArrayLike, codes: IntArray, n_clusters: int) -> FloatArray:
    """Return sums of `values` (n,) or (n, k) by cluster, (G,) or (G, k)."""
    array = np.asarray(values, dtype=float)
    if array.ndim == 1:
        return _sums(array, codes, n_clusters)
    flat = array.reshape(len(array), -1)
    sums = np.stack([_sums(column, codes, n_clusters) for column in flat.T], axis=1)
    return sums.reshape(n_clusters, *array.shape[1:])


def _sums(column: FloatArray, codes: IntArray, n_clusters: int) -> FloatArray:
    return np.bincount(codes, weights=column, minlength=n_clusters).astype(float)


@dataclass(frozen=True, slots=True)
class OneWayAnova:
    """Mean squares between and within clusters and the intraclass correlation from them.

    `icc` can be negative; it is NaN, with `reason`, where it cannot be computed.
    `n0` is the cluster size that enters the expected mean square of unequal clusters.
    """

    ms_between: float
    ms_within: float
    n0: float
    icc: float
    variance_between: float
    n_clusters: int
    n_used: int
    valid: bool
    reason: str


def one_way_anova(values: ArrayLike, cluster: ArrayLike) -> OneWayAnova:
    """Return the one-way analysis of variance of `values` (n,) by `cluster` (n,).

    Rows must be complete. Source: Donner A. Int Stat Rev 1986;54:67-82,
    doi:10.2307/1403259.
    """
    array = np.asarray(values, dtype=float)
    codes, count = cluster_codes(cluster)
    # Centring first keeps the sums of squares exact for lengths near 20 mm.
    centred = array - array.mean() if array.size else array
    sizes = np.bincount(codes, minlength=count).astype(float)
    return anova_from_sums(cluster_sums(centred, codes, count), float(centred @ centred), sizes)


def anova_from_sums(sums: FloatArray, sum_of_squares: float, sizes: FloatArray) -> OneWayAnova:
    """Return the one-way analysis from sums (G,), the total of squares and sizes (G,)."""
    n_clusters, n_rows = len(sizes), float(sizes.sum())
    if n_clusters < 2:
        return OneWayAnova(NAN, NAN, NAN, NAN, NAN, n_clusters, int(n_rows), False, ONE_CLUSTER)
    between = float(np.sum(sums**2 / sizes) - sums.sum() ** 2 / n_rows)
    within = max(float(sum_of_squares - np.sum(sums**2 / sizes)), 0.0)
    n0 = float((n_rows - np.sum(sizes**2) / n_rows) / (n_clusters - 1))
    ms_between = between / (n_clusters - 1)
    if n_rows == n_clusters:
        reason = "every patient has one row, so the spread within patients is unknown"
        return OneWayAnova(
            ms_between, NAN, n0, NAN, NAN, n_clusters, int(n_rows), False, reason
        )
    ms_within = within / (n_rows - n_clusters)
    denominator = ms_between + (n0 - 1) * ms_within
    variance = (ms_between - ms_within) / n0
    if denominator <= 0:
        reason = "all values are equal, so there is no variation to share out"
        return OneWayAnova(
            ms_between, ms_within, n0, NAN, variance, n_clusters, int(n_rows), False, reason
        )
    icc = (ms_between - ms_within) / denominator
    return OneWayAnova(
        ms_between, ms_within, n0, icc, variance, n_clusters, int(n_rows), True, ""
    )


@dataclass(frozen=True, slots=True)
class ClusterRobustFit:
    """Least squares with cluster-robust standard errors, one entry per coefficient.

    CR0 sums the scores by cluster; CR1 = CR0 G/(G-1); CR1S also has (N-1)/(N-p); CR2 is the
    Bell-McCaffrey form with an identity working model, with its Satterthwaite degrees of
    freedom. `covariance` is the CR2 matrix.
    """

    coefficients: FloatArray
    se_cr0: FloatArray
    se_cr1: FloatArray
    se_cr1s: FloatArray
    se_cr2: FloatArray
    degrees_of_freedom: FloatArray
    covariance: FloatArray
    residuals: FloatArray
    n_clusters: int
    n_used: int
    valid: bool
    reason: str

    def coefficient(self, position: int, *, level: float = 0.95, name: str = "") -> Estimate:
        """Return one coefficient with its CR2 interval (t, Satterthwaite)."""
        method = f"{name or 'coefficient'}; least squares, cluster-robust CR2, t interval"
        if not self.valid:
            return refused(self.reason, method=method, n_used=self.n_used, level=level)
        value = float(self.coefficients[position])
        quantile = stats.t.ppf((1 + level) / 2, self.degrees_of_freedom[position])
        half = float(quantile * self.se_cr2[position])
        return Estimate(value, value - half, value + half, level, self.n_used, 0, method)


def cluster_robust_least_squares(
    design: ArrayLike,
    response: ArrayLike,
    cluster: ArrayLike,
    *,
    wanted: Sequence[int] | None = None,
) -> ClusterRobustFit:
    """Return ordinary least squares of `response` (n,) on `design` (n, p) by `cluster` (n,).

    Rows must be complete; the design holds its own intercept. `wanted` names the positions
    of the coefficients whose degrees of freedom are needed (default all): with many
    clusters each one costs a pass over the rows. Sources: Bell RM, McCaffrey DF.
    Surv Methodol 2002;28:169-181; Pustejovsky JE, Tipton E. J Bus Econ Stat 2018;36:672-683,
    doi:10.1080/07350015.2016.1247004.
    """
    x, y = np.asarray(design, dtype=float), np.asarray(response, dtype=float)
    if x.ndim != 2 or y.shape != (len(x),):
        raise ValueError(f"design must be (n, p) and response (n,), got {x.shape}, {y.shape}.")
    return robust_least_squares(design_of(x), y, cluster, wanted=wanted)


def robust_least_squares(
    design: Design, y: FloatArray, cluster: ArrayLike, *, wanted: Sequence[int] | None = None
) -> ClusterRobustFit:
    """Return `cluster_robust_least_squares` of a design by pattern, without its n by p matrix."""
    codes, count = cluster_codes(cluster)
    n_rows, n_columns = len(y), design.rows.shape[1]
    if n_rows == 0 or not is_full_rank(design.rows):
        reason = "the explaining columns cannot be told apart in these rows"
        return _refused_fit(reason, n_columns, count, n_rows)
    if count < 2:
        return _refused_fit(ONE_CLUSTER, n_columns, count, n_rows)
    x = design.rows
    inverse: FloatArray = np.asarray(np.linalg.inv(x.T @ (x * design.counts()[:, None])))
    coefficients = inverse @ (x.T @ design.sums(y))
    residuals = y - (x @ coefficients)[design.codes]
    rows = ClusteredRows(codes, count)
    scores = rows.by_pattern(design, residuals) @ x
    # As a square, so that rounding can make no variance negative.
    moved = scores @ inverse
    cr0 = moved.T @ moved
    factor = count / (count - 1)
    factor_s = factor * (n_rows - 1) / max(n_rows - n_columns, 1)
    if many_light_clusters(design, inverse, rows):
        positions = range(n_columns) if wanted is None else wanted
        covariance, freedom = by_series(design, scores, inverse, rows, positions)
    else:
        cross = np.concatenate([own for _, own in crossed_blocks(design, rows)])
        covariance, freedom = by_roots(scores, inverse, cross)
    se = np.sqrt(np.diag(cr0))
    return ClusterRobustFit(
        coefficients,
        se,
        se * np.sqrt(factor),
        se * np.sqrt(factor_s),
        np.sqrt(np.diag(covariance)),
        freedom,
        covariance,
        residuals,
        count,
        n_rows,
        True,
        "",
    )


def is_full_rank(x: FloatArray) -> bool:
    """Return whether the columns of x (n, p) can be told apart, from X'X where that is clear.

    Scaled to unit columns, X'X has the squares of the singular values: far from zero they
    settle the matter without a decomposition of all rows.
    """
    gram = x.T @ x
    scale = np.sqrt(np.diag(gram))
    if np.any(scale == 0):
        return False
    smallest = float(np.linalg.eigvalsh(gram / np.outer(scale, scale))[0])
    return smallest > 1e-8 or bool(np.linalg.matrix_rank(x) == x.shape[1])


def _refused_fit(reason: str, n_columns: int, count: int, n_rows: int) -> ClusterRobustFit:
    empty = np.full(n_columns, NAN)
    square = np.full((n_columns, n_columns), NAN)
    nothing = np.full(n_rows, NAN)
    return ClusterRobustFit(
        empty, empty, empty, empty, empty, empty, square, nothing, count, n_rows, False, reason
    )


def cluster_robust_mean(
    values: ArrayLike, cluster: ArrayLike, *, level: float = 0.95, name: str = "mean"
) -> Estimate:
    """Return the mean of `values` (n,) with a CR2 interval, in the unit of the values.

    Missing values are set aside and counted. Every row has the same weight.
    """
    array = np.asarray(values, dtype=float)
    known = np.isfinite(array)
    missing = int((~known).sum())
    method = f"{name}; cluster-robust CR2, t interval"
    if not known.any():
        return refused("no value is known", method=method, n_missing=missing, level=level)
    labels = np.asarray(cluster)[known]
    fit = cluster_robust_least_squares(np.ones((int(known.sum()), 1)), array[known], labels)
    if not fit.valid:
        reason = fit.reason
        return refused(reason, method=method, n_used=fit.n_used, n_missing=missing, level=level)
    found = fit.coefficient(0, level=level, name=name)
    return Estimate(
        found.estimate, found.lower, found.upper, level, found.n_used, missing, method
    )
