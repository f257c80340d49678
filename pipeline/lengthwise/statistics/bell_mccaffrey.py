"""Bell-McCaffrey (CR2) covariance and degrees of freedom of least squares by cluster.

Two routes give the same numbers. With few clusters each one's p by p root is taken. With
many, every cluster weighs little and the root (I - H)^(-1/2) is a short power series in its
block H of the hat matrix, so that a million rows need no p by p matrix for each patient.

Sources: Bell RM, McCaffrey DF. Surv Methodol 2002;28:169-181; Pustejovsky JE, Tipton E.
J Bus Econ Stat 2018;36:672-683, doi:10.1080/07350015.2016.1247004.
"""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
# Fewer clusters than this are quicker by their roots; heavier ones make the series long.
MANY_CLUSTERS = 2000
LIGHT_CLUSTER = 0.1
_SMALLEST_TERM = 1e-13


class SortedRows:
    """Rows brought together by cluster, so that sums by cluster are one pass."""

    def __init__(self, codes: IntArray, count: int) -> None:
        self.order = np.argsort(codes, kind="stable")
        self.sizes = np.bincount(codes, minlength=count)
        self.starts = np.concatenate([[0], np.cumsum(self.sizes)[:-1]])

    def sums(self, values: FloatArray) -> FloatArray:
        """Return sums by cluster (G, ...) of rows that are in sorted order."""
        return np.asarray(np.add.reduceat(values, self.starts, axis=0), dtype=float)

    def spread(self, by_cluster: FloatArray) -> FloatArray:
        """Return each cluster's values (G, p) at its rows (n, p)."""
        return np.repeat(by_cluster, self.sizes, axis=0)


def many_light_clusters(x: FloatArray, inverse: FloatArray, rows: SortedRows) -> bool:
    """Return whether the series is short: many clusters, none with much leverage."""
    if len(rows.sizes) < MANY_CLUSTERS:
        return False
    leverage = np.einsum("ij,ij->i", x @ inverse, x)[rows.order]
    return bool(rows.sums(leverage).max() < LIGHT_CLUSTER)


def by_series(
    x: FloatArray, residuals: FloatArray, inverse: FloatArray, rows: SortedRows,
    wanted: Sequence[int],
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Return the CR2 covariance (p, p) and degrees of freedom (p,), NaN where not wanted."""
    sorted_x = x[rows.order]
    projected = sorted_x @ inverse
    rooted = _inverse_root(residuals[rows.order], sorted_x, projected, rows)
    adjusted = rows.sums(sorted_x * rooted[:, None]) @ inverse
    values, vectors = np.linalg.eigh(inverse)
    root = (vectors * np.sqrt(values)) @ vectors.T
    freedom = np.full(x.shape[1], np.nan)
    for position in wanted:
        contrast = np.ascontiguousarray(projected[:, position])
        rooted = _inverse_root(contrast, sorted_x, projected, rows)
        own = rows.sums(rooted**2)
        crossed = rows.sums(sorted_x * rooted[:, None]) @ root
        shared = np.sum(crossed**2, axis=1)
        outer = crossed.T @ crossed
        freedom[position] = _freedom(own, shared, outer)
    return adjusted.T @ adjusted, freedom


def _freedom(own: FloatArray, shared: FloatArray, outer: FloatArray) -> float:
    denominator = float((own**2 - 2 * own * shared).sum() + (outer**2).sum())
    return float((own - shared).sum() ** 2 / denominator) if denominator > 1e-300 else 1.0


def _inverse_root(
    start: FloatArray, sorted_x: FloatArray, projected: FloatArray, rows: SortedRows
) -> FloatArray:
    """Return (I - H)^(-1/2) `start` (n,), H being block diagonal by cluster."""
    total, power = start.copy(), start
    smallest = _SMALLEST_TERM * float(np.linalg.norm(start))
    for factor in _series_factors():
        summed = rows.sums(sorted_x * power[:, None])
        power = np.einsum("ij,ij->i", projected, rows.spread(summed))
        total += factor * power
        if factor * float(np.linalg.norm(power)) <= smallest:
            break
    return total


def _series_factors() -> Iterator[float]:
    """Yield the factors of H, H^2, ... in (I - H)^(-1/2): 1/2, 3/8, 5/16, ..."""
    factor, term = 1.0, 0
    while True:
        term += 1
        factor *= (2 * term - 1) / (2 * term)
        yield factor


def by_roots(
    x: FloatArray, scores: FloatArray, inverse: FloatArray, cross: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the CR2 covariance (p, p) and its degrees of freedom (p,).

    `scores` (G, p) and `cross` (G, p, p) are sums by cluster of x times residual and of xx'.
    With B = X_g M^(1/2), M = (X'X)^-1, the m_g by m_g inverse root obeys
    (I - BB')^(-1/2) B = B (I - B'B)^(-1/2): only p by p roots are needed.
    """
    values, vectors = np.linalg.eigh(inverse)
    root = (vectors * np.sqrt(values)) @ vectors.T
    kernel = root @ cross @ root
    eigenvalues, eigenvectors = np.linalg.eigh(kernel)
    remaining = 1.0 - eigenvalues
    # A cluster that alone carries a coefficient leaves nothing: its root is the pseudo-inverse.
    small = remaining < 1e-10
    scale = np.where(small, 0.0, 1.0 / np.sqrt(np.where(small, 1.0, remaining)))
    adjust = (eigenvectors * scale[:, None, :]) @ np.swapaxes(eigenvectors, 1, 2)
    adjusted = np.einsum("gij,gj->gi", adjust, scores @ root) @ root
    weighted = kernel @ adjust @ root
    own = np.einsum("gij,gij->gj", adjust @ root, weighted)
    shared = np.einsum("gij,gij->gj", weighted, weighted)
    outer = np.einsum("gij,gkj->jik", weighted, weighted)
    freedom = [_freedom(own[:, j], shared[:, j], outer[j]) for j in range(x.shape[1])]
    return adjusted.T @ adjusted, np.array(freedom)
