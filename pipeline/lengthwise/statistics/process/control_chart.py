"""The frozen result of a control chart, and what every chart shares."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lengthwise.statistics.results import NAN

FloatArray = NDArray[np.float64]

# The mean range of two standard normal values is 2/sqrt(pi); the tables print 1.128.
RANGE_OF_TWO_EXACT = 2.0 / math.sqrt(math.pi)
RANGE_OF_TWO_TABLED = 1.128
PROVISIONAL_BELOW = 20
MINIMUM_POINTS = 10


@dataclass(frozen=True, slots=True)
class ControlChart:
    """Points, centre and limits of one chart, in the order of time.

    Attributes
    ----------
    method : str
        Name of the chart as printed.
    values, lower, upper : tuple of float
        One entry for each point given; NaN stands where the point itself was missing.
    centre : float
        Height of the centre line, in the unit of `values`.
    outside : tuple of int
        Positions (from 0) of points strictly beyond a limit.
    n_used, n_missing : int
        Points that set the limits, and points set aside as missing.
    dispersion : float
        Laney's sigma_z, or the mean moving range; NaN where the chart has none.
    notes : tuple of str
        Cautions that must stand beside the picture.
    valid : bool
        False where no limits may be drawn.
    reason : str
        Why there are no limits.
    """

    method: str
    values: tuple[float, ...]
    centre: float
    lower: tuple[float, ...]
    upper: tuple[float, ...]
    outside: tuple[int, ...]
    n_used: int
    n_missing: int
    dispersion: float = NAN
    notes: tuple[str, ...] = ()
    valid: bool = True
    reason: str = ""


def as_points(values: ArrayLike, *, name: str) -> FloatArray:
    """Return one-dimensional floats or raise ValueError."""
    points = np.asarray(values, dtype=float)
    if points.ndim != 1:
        raise ValueError(f"{name} must be one-dimensional, got {points.ndim} dimensions")
    return points


def as_counts_and_sizes(
    counts: ArrayLike, sizes: ArrayLike, *, whole: bool = True
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Return counts, sizes and the mask of usable points.

    A point is usable when both numbers are present and its size is above zero; a month
    without cases has no share and is missing, not zero.
    """
    count, size = as_points(counts, name="counts"), as_points(sizes, name="sizes")
    if count.shape != size.shape:
        raise ValueError(f"counts and sizes differ in length: {count.size} and {size.size}")
    usable = np.isfinite(count) & np.isfinite(size) & (size > 0)
    if np.any(count[usable] < 0):
        raise ValueError("counts must not be negative")
    if whole and np.any(count[usable] > size[usable]):
        raise ValueError("a count is larger than its size")
    return count, size, usable


def too_few_points(n_used: int, minimum: int) -> str:
    """Return the refusal for a chart with too few points, or an empty text."""
    if n_used >= minimum:
        return ""
    return f"not enough points: {n_used} of at least {minimum}"


def refused_chart(
    reason: str, *, method: str, values: FloatArray, n_used: int, n_missing: int
) -> ControlChart:
    """Return the chart that shows its points without centre or limits."""
    blank = (NAN,) * values.size
    return ControlChart(
        method, tuple(values.tolist()), NAN, blank, blank, (), n_used, n_missing,
        valid=False, reason=reason,
    )  # fmt: skip


def finished_chart(
    *,
    method: str,
    values: FloatArray,
    centre: float,
    lower: FloatArray,
    upper: FloatArray,
    n_used: int,
    dispersion: float = NAN,
    notes: tuple[str, ...] = (),
) -> ControlChart:
    """Assemble a chart; a point outside lies strictly beyond its limit."""
    with np.errstate(invalid="ignore"):
        outside = np.flatnonzero((values < lower) | (values > upper))
    if n_used < PROVISIONAL_BELOW:
        notes = (*notes, f"limits are provisional: {n_used} points, fewer than 20")
    return ControlChart(
        method=method,
        values=tuple(values.tolist()),
        centre=centre,
        lower=tuple(lower.tolist()),
        upper=tuple(upper.tolist()),
        outside=tuple(int(position) for position in outside),
        n_used=n_used,
        n_missing=values.size - n_used,
        dispersion=dispersion,
        notes=notes,
    )
