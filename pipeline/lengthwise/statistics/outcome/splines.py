"""Bases for a curve of risk over offset in mm."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.arrays import Array

DEFAULT_QUANTILES = (0.05, 0.35, 0.65, 0.95)


def knots_at_quantiles(
    x: ArrayLike, quantiles: Sequence[float] = DEFAULT_QUANTILES
) -> tuple[float, ...]:
    """Return knots at quantiles (linear interpolation) of the known values."""
    values = np.asarray(x, dtype=float)
    return tuple(float(k) for k in np.quantile(values[np.isfinite(values)], quantiles))


def restricted_cubic_basis(x: ArrayLike, knots: Sequence[float]) -> Array:
    """Return the restricted cubic spline basis, shape (n, k - 1).

    The first column is x itself; the others are zero below the first knot and linear
    beyond the last, divided by (last - first)^2, so that they are in the unit of x.

    Raises
    ------
    ValueError
        With fewer than three knots, or knots that do not increase.

    Notes
    -----
    Source: Harrell 2015, 10.1007/978-3-319-19425-7, section 2.4.5.
    """
    t = np.asarray(knots, dtype=float)
    if t.size < 3 or np.any(np.diff(t) <= 0):
        raise ValueError("at least three increasing knots are needed")
    values = np.asarray(x, dtype=float)
    columns = [values]
    last_gap, scale = t[-1] - t[-2], (t[-1] - t[0]) ** 2
    before_last, last = _cube(values - t[-2]), _cube(values - t[-1])
    for knot in t[:-2]:
        bend = _cube(values - knot)
        bend = bend - before_last * (t[-1] - knot) / last_gap
        columns.append((bend + last * (t[-2] - knot) / last_gap) / scale)
    return np.column_stack(columns)


def piecewise_basis(x: ArrayLike, breakpoint_: float) -> Array:
    """Return min(x - k, 0) and max(x - k, 0), shape (n, 2)."""
    gap = np.asarray(x, dtype=float) - breakpoint_
    return np.column_stack([np.minimum(gap, 0.0), np.maximum(gap, 0.0)])


def _cube(values: Array) -> Array:
    return np.maximum(values, 0.0) ** 3
