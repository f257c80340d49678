"""Rows that share every explaining value, brought together.

Recorded conditions take few values, so a million readings have some hundred different
design rows. Sums over those are the same as sums over the readings.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def row_patterns(design: FloatArray) -> tuple[IntArray, IntArray]:
    """Return each row's pattern (n,) and the position of each pattern's first row (K,).

    Rows are told apart by one weighted sum of their columns; that equal sums are equal rows
    is then looked at, and where it fails the columns are taken one by one.
    """
    weights = np.random.default_rng(20240601).uniform(1, 2, design.shape[1])
    codes, first = _codes(design @ weights)
    if np.array_equal(design[first][codes], design):
        return codes, first
    codes = np.zeros(len(design), dtype=np.int64)
    for column in design.T:
        own = _codes(np.asarray(column))[0]
        codes, first = _codes(codes * (own.max() + 1) + own)
    return codes, first


def _codes(labels: NDArray[np.generic]) -> tuple[IntArray, IntArray]:
    codes, found = pd.factorize(labels)
    first = np.full(len(found), len(labels), dtype=np.int64)
    np.minimum.at(first, codes, np.arange(len(labels)))
    return codes.astype(np.int64), first


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
