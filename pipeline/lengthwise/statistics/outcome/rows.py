"""Rows made ready for a model: complete, sorted by cluster, in columns."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from lengthwise.statistics.outcome.arrays import Array, Index

# Rows per block: four columns of this many doubles stay in a core's own cache.
BLOCK_ROWS = 16_384


@dataclass(frozen=True, slots=True)
class Block:
    """A run of whole clusters: views of the columns, and cluster numbers from 0."""

    y: Array
    columns: Array
    weights: Array | None
    codes: Index
    sizes: Array

    def sums(self, values: Array) -> Array:
        """Return the sum of (n,) or (p, n) values in each cluster."""
        if values.ndim == 1:
            totals = np.bincount(self.codes, weights=values, minlength=self.sizes.size)
            return np.asarray(totals, dtype=float)
        return np.stack([self.sums(row) for row in values])


@dataclass(frozen=True, slots=True)
class Rows:
    """Complete rows sorted by cluster.

    Attributes
    ----------
    y : array of shape (n,)
        Outcome.
    columns : array of shape (p, n)
        Design, one row a column of the model.
    weights : array of shape (n,) or None
    codes : array of shape (n,)
        Cluster number of each row, not decreasing, from 0.
    starts : array of shape (g + 1,)
        First row of each cluster, and n.
    order : array of shape (n,) or None
        Row of the caller's data that stands at each place; None where nothing moved.
    n_missing : int
        Rows set aside for a missing value.
    """

    y: Array
    columns: Array
    weights: Array | None
    codes: Index
    starts: Index
    order: Index | None
    n_missing: int

    @property
    def n_used(self) -> int:
        """Number of complete rows."""
        return int(self.y.size)

    @property
    def n_clusters(self) -> int:
        """Number of clusters among the complete rows."""
        return int(self.starts.size - 1)

    def blocks(self) -> Iterator[Block]:
        """Yield runs of whole clusters, each of about BLOCK_ROWS rows."""
        cuts = np.arange(0, self.n_used, BLOCK_ROWS)
        firsts = np.unique(np.searchsorted(self.starts, cuts))
        edges = np.append(firsts[firsts < self.n_clusters], self.n_clusters)
        for first, last in pairwise(edges.tolist()):
            a, b = int(self.starts[first]), int(self.starts[last])
            yield Block(
                self.y[a:b],
                self.columns[:, a:b],
                None if self.weights is None else self.weights[a:b],
                self.codes[a:b] - first,
                np.diff(self.starts[first : last + 1]).astype(float),
            )


def prepare_rows(
    y: ArrayLike,
    x: ArrayLike,
    *,
    cluster: ArrayLike | None = None,
    weights: ArrayLike | None = None,
) -> Rows:
    """Drop incomplete rows and sort the rest by cluster.

    Parameters
    ----------
    y : array of shape (n,)
    x : array of shape (n, p)
    cluster : array of shape (n,), optional
        Labels of any kind; a missing label sets the row aside. Each row is its own
        cluster where None.
    weights : array of shape (n,), optional
        Not negative.

    Raises
    ------
    ValueError
        Where shapes disagree or a weight is negative.
    """
    outcome = np.asarray(y, dtype=float)
    design = np.asarray(x, dtype=float)
    weight = None if weights is None else np.asarray(weights, dtype=float)
    labels = None if cluster is None else np.asarray(cluster)
    _check_shapes(outcome, design, labels, weight)
    codes = None if labels is None else cluster_numbers(labels)
    kept = _complete(outcome, design, codes, weight)
    n_missing = int(outcome.size - np.count_nonzero(kept))
    if n_missing:
        outcome, design = outcome[kept], design[kept]
        weight = None if weight is None else weight[kept]
        codes = None if codes is None else cluster_numbers(codes[kept])
    order = _sorting(codes)
    if order is not None and codes is not None:
        outcome, design, codes = outcome[order], design[order], codes[order]
        weight = None if weight is None else weight[order]
    if codes is None:
        codes = np.arange(outcome.size)
    moved = _original_places(kept, order, n_missing)
    starts = np.append(np.flatnonzero(np.diff(codes, prepend=-1)), outcome.size)
    columns = np.ascontiguousarray(design.T)
    return Rows(outcome, columns, weight, codes, starts, moved, n_missing)


def cluster_numbers(labels: NDArray[np.generic]) -> Index:
    """Return the labels as numbers from 0 in order of appearance; -1 is missing."""
    numbers, _ = pd.factorize(labels)
    return np.asarray(numbers, dtype=np.int64)


def inverse_cluster_sizes(labels: ArrayLike) -> Array:
    """Return 1 / rows of the same patient for each row; NaN where the label is missing.

    As row weights these let each patient count once, for when patients with more treated
    teeth differ from the others.
    """
    codes = cluster_numbers(np.asarray(labels))
    known = codes >= 0
    weights = np.full(codes.size, np.nan)
    weights[known] = 1.0 / np.bincount(codes[known])[codes[known]]
    return weights


def _check_shapes(
    y: Array, x: Array, cluster: NDArray[np.generic] | None, weights: Array | None
) -> None:
    if y.ndim != 1 or x.ndim != 2 or x.shape[0] != y.size:
        raise ValueError("the outcome must be (n,) and the design (n, p)")
    for name, values in (("cluster", cluster), ("weights", weights)):
        if values is not None and values.shape != y.shape:
            raise ValueError(f"{name} must have one value a row of the outcome")
    if weights is not None and np.any(weights < 0):
        raise ValueError("weights must not be negative")


def _complete(
    y: Array, x: Array, codes: Index | None, weights: Array | None
) -> NDArray[np.bool_]:
    kept = np.isfinite(y)
    for column in x.T:
        kept &= np.isfinite(column)
    if codes is not None:
        kept &= codes >= 0
    if weights is not None:
        kept &= np.isfinite(weights)
    return kept


def _sorting(codes: Index | None) -> Index | None:
    """Return the order that sorts by cluster, None where the rows already are."""
    if codes is None or codes.size == 0 or bool(np.all(codes[1:] >= codes[:-1])):
        return None
    return np.argsort(codes, kind="stable")


def _original_places(
    kept: NDArray[np.bool_], order: Index | None, n_missing: int
) -> Index | None:
    if n_missing == 0:
        return order
    places = np.flatnonzero(kept)
    return places if order is None else places[order]
