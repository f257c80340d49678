"""Funnel: exact binomial limits for the picture, exact tails for the flag."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from lengthwise.statistics.process.control_chart import FloatArray

IntArray = NDArray[np.int64]

TAIL_95 = 0.025
TAIL_998 = 0.001
MINIMUM_CASES = 10
MINIMUM_UNITS = 5
METHOD = "exact binomial limits, interpolated; flag from the exact binomial tail"


@dataclass(frozen=True, slots=True)
class FunnelLimits:
    """Drawn limits, proportions 0-1, one entry for each number of cases."""

    cases: tuple[int, ...]
    target: float
    lower_998: tuple[float, ...]
    lower_95: tuple[float, ...]
    upper_95: tuple[float, ...]
    upper_998: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class FunnelPoint:
    """One unit against the target.

    Attributes
    ----------
    events, cases : int
    share : float
        Events divided by cases; NaN below the minimum number of cases.
    tail_above, tail_below : float
        P(K >= events) and P(K <= events) at the target.
    flag : str
        "above 99.8 %", "above 95 %", "below 95 %", "below 99.8 %", or "no signal", which
        never means that all is well.
    valid, reason : bool, str
        False with the reason where no share is shown.
    """

    events: int
    cases: int
    share: float
    tail_above: float
    tail_below: float
    flag: str
    valid: bool = True
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Funnel:
    """Points, limits at their sizes, and whether peers may be shown together."""

    target: float
    points: tuple[FunnelPoint, ...]
    limits: FunnelLimits
    method: str = METHOD
    valid: bool = True
    reason: str = ""


def funnel_limits(cases: ArrayLike, target: float) -> FunnelLimits:
    """Exact binomial limits, interpolated between counts, for drawing.

    limit = (r - a) / n with r the smallest count whose cumulative probability reaches p and
    a = (F(r) - p) / (F(r) - F(r - 1)); p = .001, .025, .975, .999; clipped to 0..1.

    Parameters
    ----------
    cases : array_like of int, shape (n_sizes,)
        Numbers of cases, each at least 1.
    target : float
        Share expected, strictly between 0 and 1.

    Returns
    -------
    FunnelLimits

    Raises
    ------
    ValueError
        When a size is below 1 or the target is not inside 0..1.

    Notes
    -----
    The drawn upper line signals more often than its nominal rate at small n: use
    `funnel_flag` to decide.

    References
    ----------
    Spiegelhalter DJ. Stat Med 2005;24:1185-1202, appendix A.1.1. doi:10.1002/sim.1970
    """
    sizes = _checked_sizes(cases, target)
    tails = (TAIL_998, TAIL_95, 1 - TAIL_95, 1 - TAIL_998)
    lines = [tuple(_interpolated(sizes, target, tail).tolist()) for tail in tails]
    return FunnelLimits(tuple(sizes.tolist()), target, lines[0], lines[1], lines[2], lines[3])


def signal_counts(
    cases: int, target: float, *, tail: float = TAIL_95
) -> tuple[int | None, int | None]:
    """Largest low count and smallest high count that the exact tail calls a signal.

    Parameters
    ----------
    cases : int
        Number of cases, at least 1.
    target : float
        Share expected, strictly between 0 and 1.
    tail : float
        One-sided probability.

    Returns
    -------
    tuple of (int or None, int or None)
        Largest k with P(K <= k) <= tail and smallest k with P(K >= k) <= tail; None where no
        count can signal.

    Raises
    ------
    ValueError
        As in `funnel_limits`.
    """
    size = int(_checked_sizes([cases], target)[0])
    counts = np.arange(size + 1)
    low = np.flatnonzero(stats.binom.cdf(counts, size, target) <= tail)
    high = np.flatnonzero(stats.binom.sf(counts - 1, size, target) <= tail)
    return (int(low[-1]) if low.size else None, int(high[0]) if high.size else None)


def funnel(
    events: ArrayLike,
    cases: ArrayLike,
    *,
    target: float,
    minimum_cases: int = MINIMUM_CASES,
    minimum_units: int = MINIMUM_UNITS,
) -> Funnel:
    """Units against an external target.

    Parameters
    ----------
    events, cases : array_like of int, shape (n_units,)
        Counts by unit, in the order given (never sorted by result). Units without cases are
        kept and refused.
    target : float
        The practice's own or a published target, strictly between 0 and 1.
    minimum_cases : int
        Below this a unit shows counts and no share, and gives no flag.
    minimum_units : int
        With fewer units that reach the minimum the display of peers is refused.

    Returns
    -------
    Funnel

    Raises
    ------
    ValueError
        When shapes differ or events exceed cases.

    References
    ----------
    Spiegelhalter DJ. Stat Med 2005;24:1185-1202. doi:10.1002/sim.1970
    Manktelow BN, Seaton SE. PLoS One 2012;7:e45723. doi:10.1371/journal.pone.0045723
    """
    event, case = checked_units(events, cases)
    above = stats.binom.sf(event - 1, case, target)
    below = stats.binom.cdf(event, case, target)
    points = tuple(
        _point(int(k), int(n), float(high), float(low), minimum_cases)
        for k, n, high, low in zip(event, case, above, below, strict=True)
    )
    limits = funnel_limits(case[case > 0], target)
    enough = sum(point.valid for point in points)
    reason = ""
    if enough < minimum_units:
        reason = (
            f"no peer display: {enough} units with at least {minimum_cases} cases, "
            f"of at least {minimum_units}"
        )
    return Funnel(target, points, limits, valid=not reason, reason=reason)


def funnel_flag(tail_above: float, tail_below: float) -> str:
    """Name the signal of two exact tail probabilities."""
    for tail, label in ((TAIL_998, "99.8 %"), (TAIL_95, "95 %")):
        if tail_above <= tail:
            return f"above {label}"
        if tail_below <= tail:
            return f"below {label}"
    return "no signal"


def checked_units(events: ArrayLike, cases: ArrayLike) -> tuple[IntArray, IntArray]:
    """Return whole counts by unit or raise ValueError."""
    event, case = np.asarray(events), np.asarray(cases)
    if event.ndim != 1 or event.shape != case.shape:
        raise ValueError("events and cases must be one-dimensional and of one length")
    whole_event, whole_case = event.astype(np.int64), case.astype(np.int64)
    if np.any(whole_event != event) or np.any(whole_case != case):
        raise ValueError("events and cases must be whole numbers")
    if np.any(whole_event < 0) or np.any(whole_event > whole_case):
        raise ValueError("events must lie between 0 and the number of cases")
    return whole_event, whole_case


def _point(events: int, cases: int, above: float, below: float, minimum: int) -> FunnelPoint:
    if cases < minimum:
        reason = f"{events} of {cases}: fewer than {minimum} cases, counts only"
        return FunnelPoint(
            events, cases, float("nan"), above, below, "not judged", False, reason
        )
    flag = funnel_flag(above, below)
    return FunnelPoint(events, cases, events / cases, above, below, flag)


def _checked_sizes(cases: ArrayLike, target: float) -> IntArray:
    sizes = np.atleast_1d(np.asarray(cases)).astype(np.int64)
    if np.any(sizes < 1):
        raise ValueError("every number of cases must be at least 1")
    if not 0 < target < 1:
        raise ValueError("target must lie strictly between 0 and 1")
    return sizes


def _interpolated(sizes: IntArray, target: float, tail: float) -> FloatArray:
    count = stats.binom.ppf(tail, sizes, target)
    reached = stats.binom.cdf(count, sizes, target)
    step = stats.binom.pmf(count, sizes, target)
    return np.clip((count - (reached - tail) / step) / sizes, 0.0, 1.0)
