"""Charts for rare events: cases between events (g) and time between events (t)."""

import math

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.process.control_chart import (
    MINIMUM_POINTS,
    RANGE_OF_TWO_TABLED,
    ControlChart,
    as_points,
    finished_chart,
    refused_chart,
    too_few_points,
)

# Power that makes exponential waiting times roughly normal (Nelson 1994).
WAITING_TIME_POWER = 3.6
MEDIAN_OF_EXPONENTIAL = 0.693


def g_chart(
    cases_between: ArrayLike,
    *,
    fixed_mean: float | None = None,
    minimum_points: int = MINIMUM_POINTS,
) -> ControlChart:
    """Cases between events: limits mean -/+ 3 sqrt(mean (mean + 1)), lower not below 0.

    Parameters
    ----------
    cases_between : array_like of shape (n_points,)
        Uneventful cases before each event, zero allowed. Missing points are set aside.
    fixed_mean : float, optional
        A mean agreed beforehand; the centre is then 0.693 times it, otherwise the median of
        the points.
    minimum_points : int
        Fewer usable points than this: no limits.

    Returns
    -------
    ControlChart
        In cases. `notes` carries the true chance of a point above the upper limit, since
        three standard deviations are not a 0.3 % rule here.

    Raises
    ------
    ValueError
        When a value is negative or the array is not one-dimensional.

    Notes
    -----
    Assumes a constant chance of the event in each case (geometric counts).

    References
    ----------
    Benneyan JC. Health Care Manag Sci 2001;4:305-318. doi:10.1023/A:1011846412909
    """
    points = as_points(cases_between, name="cases_between")
    used = points[np.isfinite(points)]
    if np.any(used < 0):
        raise ValueError("cases between events must not be negative")
    reason = too_few_points(used.size, minimum_points)
    if not reason and used.sum() == 0:
        reason = "every case was an event: nothing lies between events"
    if reason:
        return refused_chart(
            reason,
            method="g chart",
            values=points,
            n_used=used.size,
            n_missing=points.size - used.size,
        )
    mean = float(used.mean()) if fixed_mean is None else float(fixed_mean)
    centre = (
        float(np.median(used)) if fixed_mean is None else MEDIAN_OF_EXPONENTIAL * fixed_mean
    )
    upper = mean + 3.0 * math.sqrt(mean * (mean + 1.0))
    present = np.where(np.isfinite(points), 1.0, np.nan)
    chance = chance_above(upper, mean)
    return finished_chart(
        method="g chart",
        values=points,
        centre=centre,
        lower=0.0 * present,
        upper=upper * present,
        n_used=used.size,
        notes=(f"chance of a point above the upper limit by luck alone: {chance:.3f}",),
    )


def chance_above(limit: float, mean: float) -> float:
    """Return P(count > limit) for geometric counts from 0 with the given mean."""
    return float((mean / (mean + 1.0)) ** (math.floor(limit) + 1))


def t_chart(waiting_times: ArrayLike, *, minimum_points: int = MINIMUM_POINTS) -> ControlChart:
    """Time between events: individuals chart of times^(1/3.6), shown on the time scale.

    Parameters
    ----------
    waiting_times : array_like of shape (n_points,)
        Time from event to event in one unit (for example days), above zero. Missing points
        are set aside. Two events at one moment refuse the chart: it needs the g chart.
    minimum_points : int
        Fewer usable points than this: no limits.

    Returns
    -------
    ControlChart
        Values, centre and limits in the unit of time; a lower limit below zero on the
        transformed scale becomes zero; `dispersion` is the mean moving range of the
        transformed times.

    Raises
    ------
    ValueError
        When a time is negative or the array is not one-dimensional.

    References
    ----------
    Nelson LS. J Qual Technol 1994;26:239-241.
    """
    points = as_points(waiting_times, name="waiting_times")
    used = points[np.isfinite(points)]
    if np.any(used < 0):
        raise ValueError("waiting times must not be negative")
    reason = too_few_points(used.size, max(minimum_points, 2))
    if not reason and np.any(used == 0):
        reason = "two events fell on one day: use the chart of cases between events"
    if reason:
        return refused_chart(
            reason,
            method="t chart",
            values=points,
            n_used=used.size,
            n_missing=points.size - used.size,
        )
    scaled = used ** (1.0 / WAITING_TIME_POWER)
    mean_range = float(np.abs(np.diff(scaled)).mean())
    half = 3.0 * mean_range / RANGE_OF_TWO_TABLED
    centre = float(scaled.mean())
    present = np.where(np.isfinite(points), 1.0, np.nan)
    return finished_chart(
        method="t chart",
        values=points,
        centre=centre**WAITING_TIME_POWER,
        lower=max(centre - half, 0.0) ** WAITING_TIME_POWER * present,
        upper=(centre + half) ** WAITING_TIME_POWER * present,
        n_used=used.size,
        dispersion=mean_range,
    )
