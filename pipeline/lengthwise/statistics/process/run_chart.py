"""Run chart: median, longest run and crossings, with strict signals."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from lengthwise.statistics.process.control_chart import MINIMUM_POINTS, FloatArray, as_points
from lengthwise.statistics.results import NAN

METHOD = "run chart (longest run and crossings, both strict)"


@dataclass(frozen=True, slots=True)
class RunChartLimits:
    """Largest run and fewest crossings that chance usually gives.

    A run **longer** than `longest_run` or **fewer** crossings than `crossings` is a signal.
    """

    useful_points: int
    longest_run: int
    crossings: int


@dataclass(frozen=True, slots=True)
class NewBaseline:
    """A decision to start a new median at a point.

    Attributes
    ----------
    position : int
        First point (from 0) of the new baseline.
    decided_on : date or None
        Day of the decision.
    reason : str
        Why, in the practice's own words.
    """

    position: int
    decided_on: date | None
    reason: str


@dataclass(frozen=True, slots=True)
class RunChartSegment:
    """One baseline of a run chart; positions count from 0, `stop` is excluded."""

    start: int
    stop: int
    median: float
    useful_points: int
    longest_run: int
    crossings: int
    limits: RunChartLimits | None
    run_signal: bool
    crossing_signal: bool
    valid: bool = True
    reason: str = ""


@dataclass(frozen=True, slots=True)
class RunChart:
    """Points with the baselines drawn through them."""

    values: tuple[float, ...]
    segments: tuple[RunChartSegment, ...]
    new_baselines: tuple[NewBaseline, ...]
    n_used: int
    n_missing: int
    method: str = METHOD
    valid: bool = True
    reason: str = ""

    @property
    def signal(self) -> bool:
        """Whether any baseline shows a signal."""
        return any(part.run_signal or part.crossing_signal for part in self.segments)


def run_chart_limits(useful_points: int) -> RunChartLimits:
    """Return the two limits for a number of points off the median.

    Longest run: round(log2 n + 3). Crossings: the 5 % quantile of Binomial(n - 1, 1/2).

    Parameters
    ----------
    useful_points : int
        Points not on the median, at least 2. The rules are meant for 10 or more.

    Returns
    -------
    RunChartLimits

    Raises
    ------
    ValueError
        When `useful_points` is below 2.

    References
    ----------
    Anhoej J, Olesen AV. PLoS One 2014;9:e113825. doi:10.1371/journal.pone.0113825
    """
    if useful_points < 2:
        raise ValueError("limits need at least two useful points")
    crossings = int(stats.binom.ppf(0.05, useful_points - 1, 0.5))
    return RunChartLimits(useful_points, round(math.log2(useful_points) + 3), crossings)


def longest_run_and_crossings(values: ArrayLike, median: float) -> tuple[int, int, int]:
    """Return useful points, longest run and crossings about a centre.

    Points on the centre are left out: they neither break nor lengthen a run.
    """
    above = _sides(as_points(values, name="values"), median)
    if above.size == 0:
        return 0, 0, 0
    changes = np.flatnonzero(np.diff(above))
    edges = np.concatenate(([-1], changes, [above.size - 1]))
    return int(above.size), int(np.diff(edges).max()), int(changes.size)


def run_chart(
    values: ArrayLike,
    *,
    new_baselines: Sequence[NewBaseline] = (),
    median: float | None = None,
    minimum_points: int = MINIMUM_POINTS,
) -> RunChart:
    """Run chart of points in the order of time.

    Parameters
    ----------
    values : array_like of shape (n_points,)
        One value a month (share, mean, count). Missing months are left out and counted.
    new_baselines : sequence of NewBaseline
        Points where a new median starts. Each needs a date and a written reason, otherwise
        the chart is refused; nothing is ever rebased of itself.
    median : float, optional
        A frozen centre used for every baseline instead of its own median.
    minimum_points : int
        A baseline with fewer useful points says "not enough points" and gives no signal.

    Returns
    -------
    RunChart
        One segment for each baseline.

    Raises
    ------
    ValueError
        When a baseline starts outside the points or the starts are not increasing.

    Notes
    -----
    Assumes independent points, equally likely on either side of the centre. The rule on
    trends is left out on purpose: in simulation it adds false signals and finds little.

    References
    ----------
    Anhoej J, Olesen AV. PLoS One 2014;9:e113825. doi:10.1371/journal.pone.0113825
    """
    points = as_points(values, name="values")
    n_used = int(np.isfinite(points).sum())
    starts = [0, *(change.position for change in new_baselines), points.size]
    if any(later <= earlier for earlier, later in itertools.pairwise(starts)) and (
        new_baselines
    ):
        raise ValueError("new baselines must start inside the points, in increasing order")
    refusal = ""
    if any(c.decided_on is None or not c.reason.strip() for c in new_baselines):
        refusal = "a new baseline needs the date of the decision and a written reason"
    segments = () if refusal else _segments(points, starts, median, minimum_points)
    return RunChart(
        values=tuple(points.tolist()),
        segments=segments,
        new_baselines=tuple(new_baselines),
        n_used=n_used,
        n_missing=points.size - n_used,
        valid=not refusal,
        reason=refusal,
    )


def _segments(
    points: FloatArray, starts: list[int], median: float | None, minimum_points: int
) -> tuple[RunChartSegment, ...]:
    return tuple(
        _segment(points, start, stop, median, minimum_points)
        for start, stop in itertools.pairwise(starts)
    )


def _segment(
    points: FloatArray, start: int, stop: int, median: float | None, minimum: int
) -> RunChartSegment:
    part = points[start:stop]
    part = part[np.isfinite(part)]
    centre = median
    if centre is None:
        centre = float(np.median(part)) if part.size else NAN
    useful, longest, crossings = longest_run_and_crossings(part, centre)
    if useful < minimum:
        reason = f"not enough points: {useful} off the median, of at least {minimum}"
        return RunChartSegment(
            start, stop, centre, useful, longest, crossings, None, False, False, False, reason
        )
    limits = run_chart_limits(useful)
    return RunChartSegment(
        start, stop, centre, useful, longest, crossings, limits,
        longest > limits.longest_run, crossings < limits.crossings,
    )  # fmt: skip


def _sides(points: FloatArray, centre: float) -> NDArray[np.bool_]:
    points = points[np.isfinite(points)]
    return points[points != centre] > centre
