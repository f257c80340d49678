"""Individuals chart (XmR): one measurement a point, spread from moving ranges."""

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.process.control_chart import (
    MINIMUM_POINTS,
    RANGE_OF_TWO_EXACT,
    ControlChart,
    FloatArray,
    as_points,
    finished_chart,
    refused_chart,
    too_few_points,
)

# 1 + 3 d3/d2 for ranges of two values, as tabled.
UPPER_RANGE_FACTOR = 3.267


def xmr_chart(
    values: ArrayLike,
    *,
    range_constant: float = RANGE_OF_TWO_EXACT,
    screen_ranges: bool = False,
    minimum_points: int = MINIMUM_POINTS,
) -> ControlChart:
    """Individuals chart: mean -/+ 3 (mean moving range) / range_constant.

    Parameters
    ----------
    values : array_like of shape (n_points,)
        Measurements in the order of time, any unit. Missing points are set aside and the
        ranges run over the gap.
    range_constant : float
        Mean range of two standard normal values: 2/sqrt(pi) by default; 1.128 as tabled, or
        3/2.66, repeats a printed example.
    screen_ranges : bool
        Drop once the moving ranges above 3.267 times their mean before the spread is taken
        (Nelson 1982). Off by default; the chart's note says when it was on.
    minimum_points : int
        Fewer usable points than this: no limits.

    Returns
    -------
    ControlChart
        `dispersion` is the mean moving range used.

    Raises
    ------
    ValueError
        When `values` is not one-dimensional or the constant is not positive.

    Notes
    -----
    Assumes independent, roughly normal measurements with one mean.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2. doi:10.18434/M32189
    Nelson LS. J Qual Technol 1982;14:172-173.
    """
    if range_constant <= 0:
        raise ValueError("range_constant must be positive")
    points = as_points(values, name="values")
    used = points[np.isfinite(points)]
    reason = too_few_points(used.size, max(minimum_points, 2))
    if reason:
        return refused_chart(
            reason,
            method="individuals chart (XmR)",
            values=points,
            n_used=used.size,
            n_missing=points.size - used.size,
        )
    mean_range, notes = _mean_moving_range(used, screen_ranges)
    half = 3.0 * mean_range / range_constant
    centre = float(used.mean())
    present = np.where(np.isfinite(points), 1.0, np.nan)
    return finished_chart(
        method="individuals chart (XmR)",
        values=points,
        centre=centre,
        lower=(centre - half) * present,
        upper=(centre + half) * present,
        n_used=used.size,
        dispersion=mean_range,
        notes=notes,
    )


def upper_range_limit(chart: ControlChart) -> float:
    """Return the upper limit of the moving ranges, 3.267 times their mean."""
    return UPPER_RANGE_FACTOR * chart.dispersion


def _mean_moving_range(used: FloatArray, screen: bool) -> tuple[float, tuple[str, ...]]:
    ranges = np.abs(np.diff(used))
    if not screen:
        return float(ranges.mean()), ()
    kept = ranges[ranges <= UPPER_RANGE_FACTOR * ranges.mean()]
    dropped = ranges.size - kept.size
    return float(kept.mean()), (
        f"moving ranges screened once (Nelson 1982): {dropped} dropped",
    )
