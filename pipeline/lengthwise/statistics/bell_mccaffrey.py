"""Bell-McCaffrey (CR2) covariance and degrees of freedom of least squares by cluster.

Two routes give the same numbers. With few clusters each one's p by p root is taken. With
many, every cluster weighs little and the root (I - H)^(-1/2) is a short power series in its
block H of the hat matrix, so that a million rows need no p by p matrix for each patient.

Sources: Bell RM, McCaffrey DF. Surv Methodol 2002;28:169-181; Pustejovsky JE, Tipton E.
J Bus Econ Stat 2018;36:672-683, doi:10.1080/07350015.2016.1247004.
"""

from collections.abc import Iterator, Sequence

import numpy as np
from scipy.sparse import csr_array

from lengthwise.statistics.patterns import ClusteredRows, Design, FloatArray

# Fewer clusters than this are quicker by their roots; heavier ones make the series long.
MANY_CLUSTERS = 2000
LIGHT_CLUSTER = 0.1
_SMALLEST_TERM = 1e-12
# Small enough that a block's matrices stay near the processor.
_NUMBERS_A_BLOCK = 200_000


def many_light_clusters(design: Design, inverse: FloatArray, rows: ClusteredRows) -> bool:
    """Return whether the series is short: many clusters, none with much leverage."""
    if len(rows.sizes) < MANY_CLUSTERS:
        return False
    leverage = np.einsum("ij,ij->i", design.rows @ inverse, design.rows)
    by_row = leverage[design.codes[rows.order]]
    return bool(np.add.reduceat(by_row, rows.pointer[:-1]).max() < LIGHT_CLUSTER)


def by_series(
    design: Design, scores: FloatArray, inverse: FloatArray, rows: ClusteredRows,
    wanted: Sequence[int],
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Return the CR2 covariance (p, p) and degrees of freedom (p,), NaN where not wanted.

    `scores` (G, p) are sums by cluster of x times residual. With A = X_g'X_g and
    M = (X'X)^-1 a cluster's block of the hat matrix is H = X_g M X_g', and
    X_g' H^j v = (A M)^j X_g' v: the series needs sums by cluster alone. Clusters are taken in
    blocks, so that the memory does not grow with their number.
    """
    positions = list(wanted)
    meat = np.zeros(inverse.shape)
    parts = [_Freedom(inverse) for _ in positions]
    for block, cross in crossed_blocks(design, rows):
        contrasts = inverse[positions] @ cross
        start = np.concatenate([scores[block][:, None], contrasts], axis=1)
        rooted, inverted = _series(start, cross, inverse)
        meat += rooted[:, 0].T @ rooted[:, 0]
        for place, position in enumerate(positions, start=1):
            length = contrasts[:, place - 1] @ inverse[position]
            parts[place - 1].add(rooted[:, place], length + inverted[:, place])
    freedom = np.full(len(inverse), np.nan)
    freedom[positions] = [part.value() for part in parts]
    return inverse @ meat @ inverse, freedom


class _Freedom:
    """Adds up, over blocks of clusters, what the degrees of freedom of one contrast need."""

    def __init__(self, inverse: FloatArray) -> None:
        self.inverse = inverse
        self.trace = self.squares = 0.0
        self.outer = np.zeros(inverse.shape)

    def add(self, crossed: FloatArray, own: FloatArray) -> None:
        """Take X_g' (I-H)^(-1/2) v (B, p) and v' (I-H)^-1 v (B,) of a block."""
        shared = np.einsum("gi,gi->g", crossed @ self.inverse, crossed)
        self.trace += float((own - shared).sum())
        self.squares += float((own**2 - 2 * own * shared).sum())
        self.outer += crossed.T @ crossed

    def value(self) -> float:
        mixed = self.inverse @ self.outer
        denominator = self.squares + float(np.sum(mixed * mixed.T))
        return self.trace**2 / denominator if denominator > 1e-300 else 1.0


def crossed_blocks(design: Design, rows: ClusteredRows) -> Iterator[tuple[slice, FloatArray]]:
    """Yield slices of the clusters and their X_g'X_g (B, p, p)."""
    ordered = design.codes[rows.order]
    p = design.rows.shape[1]
    step = max(_NUMBERS_A_BLOCK // p**2, 1)
    is_patterned = len(design.rows) * 2 <= len(ordered)
    products = _products(design.rows) if is_patterned else None
    for first in range(0, len(rows.sizes), step):
        pointer = rows.pointer[first : first + step + 1]
        own = ordered[pointer[0] : pointer[-1]]
        if products is None:
            table, index = _products(design.rows[own]), np.arange(len(own))
        else:
            table, index = products, own
        ones = (np.ones(len(own)), index, pointer - pointer[0])
        sums = csr_array(ones, (len(pointer) - 1, len(table))) @ table
        yield slice(first, first + len(pointer) - 1), sums.reshape(-1, p, p)


def _products(x: FloatArray) -> FloatArray:
    return (x[:, :, None] * x[:, None, :]).reshape(len(x), -1)


def _series(
    start: FloatArray, cross: FloatArray, inverse: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return X_g' (I-H)^(-1/2) v (B, k, p), and v' ((I-H)^-1 - I) v (B, k).

    `start` holds X_g' v.
    """
    moved = _times(start, inverse)
    rooted, power = start.copy(), start
    inverted = np.einsum("gki,gki->gk", moved, power)
    smallest = _SMALLEST_TERM * np.abs(start).max()
    for factor in _series_factors():
        power = (moved if power is start else _times(power, inverse)) @ cross
        rooted += factor * power
        inverted += np.einsum("gki,gki->gk", moved, power)
        if np.abs(power).max() <= smallest:
            break
    return rooted, inverted


def _times(vectors: FloatArray, inverse: FloatArray) -> FloatArray:
    # As one product of two tables: thousands of small products cost more than their numbers.
    flat = vectors.reshape(-1, len(inverse)) @ inverse
    return flat.reshape(vectors.shape)


def _series_factors() -> Iterator[float]:
    """Yield the factors of H, H^2, ... in (I - H)^(-1/2): 1/2, 3/8, 5/16, ..."""
    factor, term = 1.0, 0
    while True:
        term += 1
        factor *= (2 * term - 1) / (2 * term)
        yield factor


def _freedom(own: FloatArray, shared: FloatArray, outer: FloatArray) -> float:
    denominator = float((own**2 - 2 * own * shared).sum() + (outer**2).sum())
    return float((own - shared).sum() ** 2 / denominator) if denominator > 1e-300 else 1.0


def by_roots(
    scores: FloatArray, inverse: FloatArray, cross: FloatArray
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
    freedom = [_freedom(own[:, j], shared[:, j], outer[j]) for j in range(len(inverse))]
    return adjusted.T @ adjusted, np.array(freedom)
