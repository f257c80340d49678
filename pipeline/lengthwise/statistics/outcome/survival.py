"""Survival of teeth: Kaplan-Meier with intervals that allow for patients."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.arrays import Array, Index
from lengthwise.statistics.outcome.model_fit import critical_value
from lengthwise.statistics.outcome.rows import cluster_numbers
from lengthwise.statistics.results import NAN, Estimate, refused


@dataclass(frozen=True, slots=True)
class SurvivalPoint:
    """Survival at one time.

    Attributes
    ----------
    time : float
        In the unit of the input.
    n_risk : int
        Units whose time is this or later.
    events : int
        Events up to and at this time.
    survival : Estimate
        0-1, with the log-log interval clustered on the patient (Greenwood without clusters).
    greenwood : Estimate
        The same with the Greenwood interval, which takes units as independent.
    standard_error, greenwood_standard_error : float
        Of the survival.
    """

    time: float
    n_risk: int
    events: int
    survival: Estimate
    greenwood: Estimate
    standard_error: float
    greenwood_standard_error: float


@dataclass(frozen=True, slots=True)
class SurvivalCurve:
    """Kaplan-Meier estimate.

    Attributes
    ----------
    event_times : tuple of float
        With `n_risk`, `events`, `survival` and `standard_errors` (Greenwood) at each.
    points : tuple of SurvivalPoint
        At the times asked for.
    median : float
        First time with survival at or below one half; NaN where it is not reached.
    """

    event_times: tuple[float, ...]
    n_risk: tuple[int, ...]
    events: tuple[int, ...]
    survival: tuple[float, ...]
    standard_errors: tuple[float, ...]
    points: tuple[SurvivalPoint, ...]
    median: float
    n_used: int
    n_missing: int
    n_events: int
    n_clusters: int
    method: str
    valid: bool
    reason: str


@dataclass(frozen=True, slots=True)
class _Steps:
    """The steps of the curve, as arrays over the event times."""

    times: Array
    at_risk: Index
    events: Index
    survival: Array
    increments: Array

    def greenwood(self) -> Array:
        return self.survival * np.sqrt(np.cumsum(self.increments))


@dataclass(frozen=True, slots=True)
class _Units:
    """What every time on the curve asks of the units, worked out once.

    `lived` counts the event times that a unit lived to see; `share` is 1 over those left after
    its own event, 0 where it had none. `times` are sorted, the others stand in the units' order.
    """

    times: Array
    lived: Index
    share: Array
    codes: Index


def kaplan_meier(
    time: ArrayLike,
    event: ArrayLike,
    *,
    times: Sequence[float] = (),
    cluster: ArrayLike | None = None,
    level: float = 0.95,
) -> SurvivalCurve:
    """Estimate survival of units that share patients.

    Parameters
    ----------
    time : array of shape (n,)
        Time to event or last review, 0 or more.
    event : array of shape (n,)
        1 event, 0 censored; a unit censored at an event's time counts as at risk there.
    times : sequence of float
        Times at which survival is given.
    cluster : array of shape (n,), optional
        Patient of each unit.
    level : float
        Confidence level, 0-1.

    Returns
    -------
    SurvivalCurve
        A point has no width-zero interval: before the first event its lower limit is the
        exact binomial one on the units at risk; beyond the last time it is refused.

    Notes
    -----
    Clustered standard error: influence of each unit summed by patient, without a
    small-sample factor. Censoring is taken as unrelated to the outcome. Sources: Kaplan &
    Meier 1958, 10.1080/01621459.1958.10501452; Ying & Wei 1994, J Multivar Anal 50:17-29 (from memory);
    log-log interval Kalbfleisch & Prentice 2002, 10.1002/9781118032985.
    """
    t, d, codes, n_missing = _known_rows(time, event, cluster)
    kind = "Greenwood" if cluster is None else "clustered on the patient"
    method = f"Kaplan-Meier, log-log interval, {kind}"
    if t.size == 0:
        return SurvivalCurve(
            (), (), (), (), (), (), NAN, 0, n_missing, 0, 0, method, False,
            "no unit has a time",
        )  # fmt: skip
    steps = _steps(t, d)
    units = _units(steps, t, d, codes)
    greenwood = steps.greenwood()
    points = tuple(_point(steps, units, float(at), method, n_missing, level) for at in times)
    reached = np.flatnonzero(steps.survival <= 0.5)
    none = "no event has happened, so survival is known only from below"
    return SurvivalCurve(
        event_times=tuple(steps.times.tolist()),
        n_risk=tuple(int(n) for n in steps.at_risk),
        events=tuple(int(n) for n in steps.events),
        survival=tuple(steps.survival.tolist()),
        standard_errors=tuple(greenwood.tolist()),
        points=points,
        median=float(steps.times[reached[0]]) if reached.size else NAN,
        n_used=int(t.size),
        n_missing=n_missing,
        n_events=int(d.sum()),
        n_clusters=int(codes.max()) + 1,
        method=method,
        valid=True,
        reason="" if d.any() else none,
    )


def _known_rows(
    time: ArrayLike, event: ArrayLike, cluster: ArrayLike | None
) -> tuple[Array, Array, Index, int]:
    """Return times, events and patient numbers of the complete rows, and the others' count."""
    t, d = np.asarray(time, dtype=float), np.asarray(event, dtype=float)
    if t.shape != d.shape or t.ndim != 1:
        raise ValueError("time and event must both be of shape (n,)")
    known = np.isfinite(t) & np.isfinite(d)
    codes = np.arange(t.size) if cluster is None else cluster_numbers(np.asarray(cluster))
    known &= codes >= 0
    t, d = t[known], d[known]
    if np.any(t < 0) or np.any((d != 0) & (d != 1)):
        raise ValueError("times must be 0 or more, and events 0 or 1")
    return t, d, cluster_numbers(codes[known]), int(np.count_nonzero(~known))


def _steps(t: Array, d: Array) -> _Steps:
    times, place = np.unique(t[d == 1.0], return_inverse=True)
    events = np.bincount(place, minlength=times.size)
    at_risk = t.size - np.searchsorted(np.sort(t), times, side="left")
    survival = np.cumprod(1.0 - events / at_risk)
    left = np.where(at_risk > events, at_risk - events, np.inf)
    return _Steps(times, at_risk, events, survival, events / (at_risk * left))


def _units(steps: _Steps, t: Array, d: Array, codes: Index) -> _Units:
    lived = np.searchsorted(steps.times, t, side="right")
    left = np.maximum(steps.at_risk - steps.events, 1)
    share = np.where(d == 1.0, 1.0 / left[np.maximum(lived - 1, 0)], 0.0) if d.any() else d
    return _Units(np.sort(t), lived, share, codes)


def _point(
    steps: _Steps, units: _Units, at: float, method: str, n_missing: int, level: float
) -> SurvivalPoint:
    passed = int(np.searchsorted(steps.times, at, side="right"))
    survival = float(steps.survival[passed - 1]) if passed else 1.0
    n = int(units.times.size)
    n_risk = n - int(np.searchsorted(units.times, at, side="left"))
    greenwood_error = float(steps.greenwood()[passed - 1]) if passed else 0.0
    influence = survival * _influence(steps, units, passed)
    sums = np.bincount(units.codes, weights=influence)
    error = float(np.sqrt(sums @ sums))
    counts = (level, n, n_missing)
    plain = "Kaplan-Meier, log-log interval, Greenwood"
    beyond = at > float(units.times[-1]) and survival > 0
    return SurvivalPoint(
        time=at,
        n_risk=n_risk,
        events=int(steps.events[:passed].sum()),
        survival=_interval(survival, error, n_risk, beyond, counts, method),
        greenwood=_interval(survival, greenwood_error, n_risk, beyond, counts, plain),
        standard_error=error,
        greenwood_standard_error=greenwood_error,
    )


def _influence(steps: _Steps, units: _Units, passed: int) -> Array:
    """Return each unit's influence on log survival after so many event times, shape (n,)."""
    cumulative = np.concatenate([[0.0], np.cumsum(steps.increments[:passed])])
    had_event = np.where(units.lived <= passed, units.share, 0.0)
    return cumulative[np.minimum(units.lived, passed)] - had_event


def _interval(
    survival: float,
    error: float,
    n_risk: int,
    beyond: bool,
    counts: tuple[float, int, int],
    method: str,
) -> Estimate:
    level, n_used, n_missing = counts
    if beyond:
        return refused(
            "nobody was followed this long", method=method, n_used=n_used,
            n_missing=n_missing, level=level,
        )  # fmt: skip
    if survival == 1.0:
        lower = (0.5 - level / 2) ** (1 / n_risk) if n_risk else 0.0
        note = "no event yet: exact lower limit from the units at risk"
        return Estimate(1.0, lower, 1.0, level, n_used, n_missing, method, True, note)
    if survival == 0.0:
        note = "no unit is left: the estimate is 0 and has no interval"
        return Estimate(0.0, NAN, NAN, level, n_used, n_missing, method, False, note)
    if error == 0.0:
        note = "no variation between patients, so this interval would have no width"
        return Estimate(survival, NAN, NAN, level, n_used, n_missing, method, False, note)
    spread = error / (survival * abs(math.log(survival)))
    factor = math.exp(critical_value(level, math.inf) * spread)
    return Estimate(
        survival, survival**factor, survival ** (1 / factor), level, n_used, n_missing, method
    )
