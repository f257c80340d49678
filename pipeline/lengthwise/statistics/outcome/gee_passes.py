"""One pass over the rows of an estimating equation, block by block."""

from dataclasses import dataclass

import numpy as np

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.outcome.families import Family
from lengthwise.statistics.outcome.rows import Block, Rows


@dataclass(frozen=True, slots=True)
class Pass:
    """Sums over all clusters at one value of the coefficients.

    Attributes
    ----------
    bread : array of shape (p, p)
        Sum of D'V^-1 D.
    score : array of shape (p,)
        Sum of D'V^-1 (y - mean).
    squares, products : float
        Sum of squared Pearson residuals, and of their products over pairs in a cluster.
    extreme : bool
        True where a fitted probability is 0 or 1 in double precision.
    """

    bread: Array
    score: Array
    squares: float
    products: float
    extreme: bool


def one_pass(
    rows: Rows, family: Family, beta: Array | None, alpha: float, correlated: bool
) -> Pass:
    """Return the sums at `beta`, or at the family's start values where it is None.

    With R exchangeable, R^-1 = (I - c J) / (1 - alpha), so that a cluster enters by the
    sums of its scaled rows only; no matrix of cluster size is ever formed.
    """
    width = rows.columns.shape[0]
    bread, score = np.zeros((width, width)), np.zeros(width)
    squares = products = 0.0
    extreme = False
    for block in rows.blocks():
        scaled, residual, on_edge = scaled_block(block, family, beta)
        extreme = extreme or on_edge
        weighted = scaled if block.weights is None else scaled * block.weights
        own = weighted @ scaled.T
        pull = weighted @ residual
        squares += _weighted_squares(residual, block.weights)
        if correlated:
            row_sums, residual_sums = block.sums(scaled), block.sums(residual)
            products += float(residual_sums @ residual_sums) - float(residual @ residual)
            shared = row_sums * shrinking(alpha, block.sizes)
            own = (own - shared @ row_sums.T) / (1.0 - alpha)
            pull = (pull - shared @ residual_sums) / (1.0 - alpha)
        bread += own
        score += pull
    return Pass(bread, score, squares, products / 2.0, extreme)


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
        return float(residual @ residual)
    return float((residual * weights) @ residual)
