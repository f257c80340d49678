"""Rows that share every explaining value, brought together.

Recorded conditions take few values, so a million readings have some hundred different
design rows. Sums over those are the same as sums over the readings.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.sparse import csr_array

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
_LARGEST_CODE = 2**62


@dataclass(frozen=True, slots=True)
class Design:
    """The explaining values of n rows: the different ones (K, p), and which each row has (n,)."""

    codes: IntArray
    rows: FloatArray

    def counts(self) -> FloatArray:
        """Return how many rows have each pattern (K,)."""
        return np.bincount(self.codes, minlength=len(self.rows)).astype(float)

    def sums(self, values: FloatArray) -> FloatArray:
        """Return sums of `values` (n,) by pattern (K,)."""
        return np.bincount(self.codes, weights=values, minlength=len(self.rows)).astype(float)


def intercept(n_rows: int) -> Design:
    """Return the design of a mean."""
    return Design(np.zeros(n_rows, dtype=np.int64), np.ones((1, 1)))


def design_of(x: FloatArray) -> Design:
    """Return the design matrix (n, p) by pattern, or row by row where hardly any repeat."""
    codes, first = row_patterns(x)
    if 2 * len(first) > len(x):
        return Design(np.arange(len(x)), x)
    return Design(codes, x[first])


def row_patterns(design: FloatArray) -> tuple[IntArray, IntArray]:
    """Return each row's pattern (n,) and the position of each pattern's first row (K,).

    Rows are told apart by one weighted sum of their columns; that equal sums are equal rows
    is then looked at, and where it fails the columns are taken one by one.
    """
    weights = np.random.default_rng(20240601).uniform(1, 2, design.shape[1])
    codes, first = _codes(design @ weights)
    if np.array_equal(design[first][codes], design):
        return codes, first
    return joint_patterns([_codes(np.asarray(column))[0] for column in design.T])


def joint_patterns(columns: Sequence[NDArray[np.integer]]) -> tuple[IntArray, IntArray]:
    """Return the patterns of rows whose columns are given as codes (n,) of 0 and above."""
    joint = np.zeros(len(columns[0]), dtype=np.int64)
    reach = 1
    for column in columns:
        kinds = int(column.max()) + 1 if len(column) else 1
        if reach * kinds > _LARGEST_CODE:
            joint = _codes(joint)[0]
            reach = int(joint.max()) + 1
        joint = joint * kinds + column
        reach *= kinds
    return _codes(joint)


def codes_of(labels: NDArray[Any]) -> tuple[IntArray, int]:
    """Return codes (n,) from 0 in order of appearance, a missing label's being -1, and their number."""
    if labels.dtype.kind in "iu" and labels.size and bool(np.all(labels[1:] >= labels[:-1])):
        codes = np.zeros(labels.size, dtype=np.int64)
        np.cumsum(labels[1:] != labels[:-1], out=codes[1:])
        return codes, int(codes[-1]) + 1
    found, kinds = pd.factorize(labels)
    return found.astype(np.int64), len(kinds)


def _codes(labels: NDArray[np.generic]) -> tuple[IntArray, IntArray]:
    codes, found = codes_of(labels)
    first = np.empty(found, dtype=np.int64)
    # Written from the end, so that each pattern's first row stands last.
    first[codes[::-1]] = np.arange(len(labels))[::-1]
    return codes, first


class ClusteredRows:
    """Rows brought together by cluster, so that sums by cluster are one pass."""

    def __init__(self, codes: IntArray, count: int) -> None:
        self.order = np.argsort(codes, kind="stable")
        self.sizes = np.bincount(codes, minlength=count)
        self.pointer = np.concatenate([[0], np.cumsum(self.sizes)])

    def by_pattern(self, design: Design, values: FloatArray) -> csr_array:
        """Return sums of `values` (n,) by cluster and pattern (G, K)."""
        shape = (len(self.sizes), len(design.rows))
        return csr_array((values[self.order], design.codes[self.order], self.pointer), shape)


@dataclass(frozen=True, slots=True)
class Grouped:
    """A response (n,) by pattern: rows (K,), their mean (K,) and squares about it (K,)."""

    rows: FloatArray
    mean: FloatArray
    squares: FloatArray

    def squares_about(self, value: FloatArray) -> FloatArray:
        """Return the sum of squares of each pattern's rows about a value (K,)."""
        about: FloatArray = self.squares + self.rows * (self.mean - value) ** 2
        return about


def grouped(response: FloatArray, codes: IntArray, count: int) -> Grouped:
    """Return the response by pattern."""
    rows = np.bincount(codes, minlength=count).astype(float)
    mean = np.bincount(codes, weights=response, minlength=count) / rows
    squares = np.bincount(codes, weights=(response - mean[codes]) ** 2, minlength=count)
    return Grouped(rows, mean, squares.astype(float))
