"""Since when: the most likely single change in a series of observed and expected counts."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.process.control_chart import MINIMUM_POINTS, FloatArray, as_points
from lengthwise.statistics.results import NAN

METHOD = "most likely single change, likelihood ratio, p from {draws} simulated series"
DIRECTIONS = ("either", "rise", "fall")
MINIMUM_EVENTS = 5


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """The most likely place of one change.

    Attributes
    ----------
    position : int or None
        First point (from 0) of the later part.
    ratio_before, ratio_after : float
        Observed / expected of the two parts, expected scaled to the observed total.
    statistic : float
        Log likelihood ratio of two rates against one, largest over all positions.
    p_value : float
        Chance of so large a statistic anywhere in a series without a change.
    n_used, n_missing : int
        Points with cases, and points set aside.
    """

    position: int | None
    ratio_before: float
    ratio_after: float
    statistic: float
    p_value: float
    n_used: int
    n_missing: int
    method: str
    valid: bool = True
    reason: str = ""


def change_point(
    observed: ArrayLike,
    expected: ArrayLike,
    *,
    direction: str = "either",
    minimum_points: int = MINIMUM_POINTS,
    minimum_events: int = MINIMUM_EVENTS,
    draws: int = 9999,
    seed: int = 1,
) -> ChangePoint:
    """Find where a rate most likely changed, once, in a series in the order of time.

    Parameters
    ----------
    observed : array_like of shape (n_points,)
        Events of each point. Give the rarer of event and non-event.
    expected : array_like of shape (n_points,)
        Expected events, or cases where all have one risk; only their proportions matter. A
        point with a missing number or nothing expected is set aside and counted.
    direction : {"either", "rise", "fall"}
        Which change counts.
    minimum_points, minimum_events : int
        Fewer of either: refused.
    draws, seed : int
        Simulated series without a change, and their seed.

    Returns
    -------
    ChangePoint
        A position is always the best of those allowed; only a small p makes it worth a look.

    Raises
    ------
    ValueError
        When shapes differ, a number is negative or the direction is unknown.

    Notes
    -----
    Given the total, counts without a change are multinomial (Poisson counts). Binomial
    counts vary less, so that the p is then too large rather than too small; cases alike
    within patients vary more and make it too small.

    References
    ----------
    Worsley KJ. Biometrika 1986;73:91-104. doi:10.1093/biomet/73.1.91
    """
    if direction not in DIRECTIONS:
        raise ValueError(f"direction must be one of {DIRECTIONS}, got {direction!r}")
    seen, hoped = as_points(observed, name="observed"), as_points(expected, name="expected")
    if seen.shape != hoped.shape:
        raise ValueError("observed and expected must have one length")
    used = np.isfinite(seen) & np.isfinite(hoped) & (hoped > 0)
    if np.any(seen[used] < 0):
        raise ValueError("counts must not be negative")
    method, n_used = METHOD.format(draws=draws), int(used.sum())
    total = float(seen[used].sum())
    reason = _refusal(n_used, total, minimum_points, minimum_events)
    if reason:
        return ChangePoint(
            None, NAN, NAN, NAN, NAN, n_used, seen.size - n_used, method, False, reason
        )
    share = hoped[used] / hoped[used].sum()
    values = _log_ratios(seen[used], share, direction)
    split = int(values.argmax()) + 1
    simulated = np.random.default_rng(seed).multinomial(round(total), share, draws)
    largest = _log_ratios(simulated.astype(float), share, direction).max(axis=1)
    # Equal series must count as equal: logarithms carry rounding noise.
    as_extreme = int((largest >= values.max() - 1e-9).sum())
    before = float(seen[used][:split].sum() / (total * share[:split].sum()))
    after = float(seen[used][split:].sum() / (total * share[split:].sum()))
    return ChangePoint(
        position=int(np.flatnonzero(used)[split]),
        ratio_before=before,
        ratio_after=after,
        statistic=float(values.max()),
        p_value=(as_extreme + 1) / (draws + 1),
        n_used=n_used,
        n_missing=seen.size - n_used,
        method=method,
    )


def _refusal(points: int, events: float, minimum_points: int, minimum_events: int) -> str:
    if points < max(minimum_points, 2):
        return f"not enough points: {points} of at least {max(minimum_points, 2)}"
    if events < minimum_events:
        return f"{events:.0f} events, fewer than {minimum_events}: no change can be placed"
    return ""


def _log_ratios(counts: FloatArray, share: FloatArray, direction: str) -> FloatArray:
    """Return the log likelihood ratio of a change after each point but the last."""
    total = counts.sum(axis=-1, keepdims=True)
    early, early_share = counts.cumsum(axis=-1)[..., :-1], share.cumsum()[:-1]
    late, late_share = total - early, 1 - early_share
    value = _part(early, total * early_share) + _part(late, total * late_share)
    rises = late / late_share > early / early_share
    if direction == "either":
        return np.asarray(value)
    return np.where(rises if direction == "rise" else ~rises, value, 0.0)


def _part(seen: FloatArray, hoped: FloatArray) -> FloatArray:
    ratio = np.divide(seen, hoped, out=np.ones_like(seen), where=seen > 0)
    return np.asarray(seen * np.log(ratio))
