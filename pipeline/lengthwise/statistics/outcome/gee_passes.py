"""One pass over the rows of an estimating equation, block by block."""

from dataclasses import dataclass

import numpy as np

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.outcome.families import Family
from lengthwise.statistics.outcome.rows import Block, Rows


@dataclass(frozen=True, slots=True)
class Pass:
    """Sums at one value of the coefficients, before the correlation is known.

    Attributes
    ----------
    own_bread : array of shape (p, p)
        Sum over rows of D'D, scaled by the standard deviations.
    own_score : array of shape (p,)
        Sum over rows of D' times the Pearson residual.
    squares : float
        Sum of squared Pearson residuals.
    row_sums, residual_sums : array of shape (p, g) and (g,), or None
        Sums in each cluster; only where rows are correlated.
    extreme : bool
        True where a fitted probability is 0 or 1 in double precision.
    """

    own_bread: Array
    own_score: Array
    squares: float
    row_sums: Array | None
    residual_sums: Array | None
    extreme: bool

    def products(self) -> float:
        """Return the sum of residual products over pairs of rows in a cluster."""
        if self.residual_sums is None:
            return 0.0
        total = np.einsum("g,g->", self.residual_sums, self.residual_sums)
        return (float(total) - self.squares) / 2.0

    def equations(self, alpha: float, sizes: Array) -> tuple[Array, Array]:
        """Return D'V^-1 D (p, p) and the score (p,) for an exchangeable correlation.

        With R exchangeable, R^-1 = (I - c J) / (1 - alpha), so that a cluster enters by
        the sums of its scaled rows only; no matrix of cluster size is ever formed.
        """
        if self.row_sums is None or self.residual_sums is None or alpha == 0.0:
            return self.own_bread, self.own_score
        # einsum keeps to one thread: on a busy machine waiting for a second one costs more
        # than these thin products.
        shared = self.row_sums * shrinking(alpha, sizes)
        bread = self.own_bread - np.einsum("pg,qg->pq", shared, self.row_sums)
        score = self.own_score - np.einsum("pg,g->p", shared, self.residual_sums)
        return bread / (1.0 - alpha), score / (1.0 - alpha)


def one_pass(rows: Rows, family: Family, beta: Array | None, correlated: bool) -> Pass:
    """Return the sums at `beta`, or at the family's start values where it is None."""
    width, count = rows.columns.shape[0], rows.n_clusters
    bread, score = np.zeros((width, width)), np.zeros(width)
    row_sums = np.empty((width, count)) if correlated else None
    residual_sums = np.empty(count) if correlated else None
    squares, extreme, first = 0.0, False, 0
    for block in rows.blocks():
        scaled, residual, on_edge = scaled_block(block, family, beta)
        extreme = extreme or on_edge
        weighted = scaled if block.weights is None else scaled * block.weights
        bread += weighted @ scaled.T
        score += weighted @ residual
        squares += _weighted_squares(residual, block.weights)
        last = first + block.sizes.size
        if row_sums is not None and residual_sums is not None:
            row_sums[:, first:last] = block.sums(scaled)
            residual_sums[first:last] = block.sums(residual)
        first = last
    return Pass(bread, score, squares, row_sums, residual_sums, extreme)


def scaled_block(block: Block, family: Family, beta: Array | None) -> tuple[Array, Array, bool]:
    """Return D / sd as (p, n), Pearson residuals as (n,), and whether a mean is extreme."""
    predictor = family.start(block.y) if beta is None else beta @ block.columns
    mean, root, slope = family.working(predictor)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = slope / root
        residual = (block.y - mean) / root
    if beta is None:
        # The first step regresses the working response, so the whole predictor
        # stands where later steps have only the residual.
        residual = residual + ratio * predictor
    edge = family.is_binary and float(root.min()) < 1e-6
    return block.columns * ratio, residual, edge


def shrinking(alpha: float, sizes: Array) -> Array:
    """Return c of (I - c J) for clusters of these sizes."""
    return alpha / (1.0 + alpha * (sizes - 1.0))


def cluster_scores(
    block: Block, family: Family, beta: Array, alpha: float
) -> tuple[Array, Array, Array]:
    """Return the score of each cluster (p, g), the scaled rows (p, n), their sums (p, g)."""
    scaled, residual, _ = scaled_block(block, family, beta)
    weighted = residual if block.weights is None else residual * block.weights
    own = block.sums(scaled * weighted)
    row_sums = np.zeros_like(own)
    if alpha != 0.0:
        row_sums = block.sums(scaled)
        shared = shrinking(alpha, block.sizes) * block.sums(residual)
        own = (own - row_sums * shared) / (1.0 - alpha)
    return own, scaled, row_sums


def _weighted_squares(residual: Array, weights: Array | None) -> float:
    if weights is None:
        return float(np.einsum("n,n->", residual, residual))
    return float(np.einsum("n,n,n->", residual, residual, weights))
