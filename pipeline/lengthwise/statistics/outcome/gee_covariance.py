"""Covariances of an estimating equation that allow for clusters."""

import numpy as np

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.outcome.families import Family
from lengthwise.statistics.outcome.gee_passes import cluster_scores, shrinking
from lengthwise.statistics.outcome.rows import Block, Rows

# A cluster whose leverage comes this near to 1 fixes a coefficient by itself.
LARGEST_LEVERAGE = 1.0 - 1e-8

COVARIANCES = {
    "robust": "robust covariance",
    "robust_g": "robust covariance with factor G/(G-1)",
    "mancl_derouen": "Mancl-DeRouen covariance",
    "kauermann_carroll": "Kauermann-Carroll covariance",
    "model": "model-based covariance",
}


class ClusterDecidesAlone(ArithmeticError):
    """One cluster alone fixes a coefficient, so its correction does not exist."""


def meat(
    rows: Rows, family: Family, beta: Array, alpha: float, bread: Array, correction: str
) -> Array:
    """Return the middle of the sandwich, shape (p, p).

    Parameters
    ----------
    correction : str
        "mancl_derouen", "kauermann_carroll", or anything else for none.

    Notes
    -----
    With H the leverage of a cluster, L L' the bread and B the cluster's share of it,
    D'V^-1 f(H) r = L f(L^-1 B L^-T) L^-1 u for f(h) = 1/(1-h) (Mancl & DeRouen) or
    1/sqrt(1-h) (Kauermann & Carroll): p x p matrices replace those of cluster size.
    """
    middle = np.zeros_like(bread)
    root = np.linalg.cholesky(bread)
    for block in rows.blocks():
        scores, scaled, row_sums = cluster_scores(block, family, beta, alpha)
        if correction in ("mancl_derouen", "kauermann_carroll"):
            shares = cluster_bread(block, scaled, row_sums, alpha)
            power = 1.0 if correction == "mancl_derouen" else 0.5
            scores = corrected_scores(scores, shares, root, power)
        middle += scores @ scores.T
    return middle


def cluster_bread(block: Block, scaled: Array, row_sums: Array, alpha: float) -> Array:
    """Return each cluster's D'V^-1 D, shape (g, p, p)."""
    width, count = row_sums.shape
    shares = np.empty((count, width, width))
    weighted = scaled if block.weights is None else scaled * block.weights
    for a in range(width):
        for b in range(a + 1):
            entry = block.sums(weighted[a] * scaled[b])
            shares[:, a, b] = shares[:, b, a] = entry
    if alpha != 0.0:
        factor = shrinking(alpha, block.sizes)[:, None, None]
        outer = row_sums.T[:, :, None] * row_sums.T[:, None, :]
        shares = (shares - factor * outer) / (1.0 - alpha)
    return shares


def corrected_scores(scores: Array, shares: Array, root: Array, power: float) -> Array:
    """Return D'V^-1 (I - H)^-power r of each cluster, shape (p, g); see `meat`."""
    inverse = np.linalg.inv(root)
    leverage, axes = np.linalg.eigh(inverse @ shares @ inverse.T)
    if leverage.size and float(leverage.max()) > LARGEST_LEVERAGE:
        raise ClusterDecidesAlone
    turned = np.einsum("gji,jk,kg->gi", axes, inverse, scores)
    turned /= (1.0 - leverage) ** power
    return root @ np.einsum("gij,gj->ig", axes, turned)
