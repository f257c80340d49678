"""What the teeth that were not reviewed could do to the result."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.results import NAN

GRID = (0.0, 0.5, 1.0)


@dataclass(frozen=True, slots=True)
class GroupFollowUp:
    """One group: how many were reviewed, and the range of its risk.

    Attributes
    ----------
    n, observed, events : int
        Teeth, teeth reviewed, and events among the reviewed.
    risk_observed : float
        Events / observed; NaN where none was reviewed.
    risk_lowest, risk_highest : float
        If no missing tooth, or every missing tooth, had the event.
    """

    n: int
    observed: int
    events: int
    risk_observed: float
    risk_lowest: float
    risk_highest: float


@dataclass(frozen=True, slots=True)
class FollowUpBounds:
    """Range of a risk difference (exposed - reference) over what was not seen.

    Attributes
    ----------
    reference, exposed : GroupFollowUp
    difference_observed, difference_lowest, difference_highest : float
    difference_all_events, difference_no_events : float
        If every missing tooth, or none, in both groups had the event.
    grid_shares : tuple of float
        Shares of events among the missing.
    grid : tuple of tuple of float
        Differences; rows over the share in the reference, columns in the exposed group.
    tipping_share : float
        Share of events among the missing of the exposed group at which the difference is 0,
        with the missing of the reference at their group's observed risk; NaN where no share
        from 0 to 1 does it.
    """

    reference: GroupFollowUp
    exposed: GroupFollowUp
    difference_observed: float
    difference_lowest: float
    difference_highest: float
    difference_all_events: float
    difference_no_events: float
    grid_shares: tuple[float, ...]
    grid: tuple[tuple[float, ...], ...]
    tipping_share: float
    method: str
    valid: bool
    reason: str


def followup_bounds(
    outcome: ArrayLike, exposed: ArrayLike, *, shares: tuple[float, ...] = GRID
) -> FollowUpBounds:
    """Bound the risk difference over every possible outcome of the missing.

    Parameters
    ----------
    outcome : array of shape (n,)
        1 event, 0 none, NaN not reviewed.
    exposed : array of shape (n,)
        1 or 0; NaN rows are left out.
    shares : tuple of float
        Shares of events among the missing to try, 0-1.

    Returns
    -------
    FollowUpBounds
        Not valid where a group is empty or has no reviewed tooth.

    Notes
    -----
    No assumption on the missing. Source: Manski 1990, American Economic Review 80:319-323;
    tipping point Yan, Lee & Li 2009, 10.1080/10543400903243025 (from memory).
    """
    y, group = np.asarray(outcome, dtype=float), np.asarray(exposed, dtype=float)
    if y.shape != group.shape or y.ndim != 1:
        raise ValueError("outcome and exposed must both be of shape (n,)")
    if any(not 0 <= share <= 1 for share in shares):
        raise ValueError("shares must lie between 0 and 1")
    g0, g1 = _group(y[group == 0]), _group(y[group == 1])
    method = "bounds over all outcomes of the missing"
    if min(g0.observed, g1.observed) == 0:
        reason = "a group has no reviewed tooth, so there is nothing to compare"
        return FollowUpBounds(g0, g1, *(NAN,) * 5, shares, (), NAN, method, False, reason)
    grid = tuple(
        tuple(_risk_with(g1, column) - _risk_with(g0, row) for column in shares)
        for row in shares
    )
    return FollowUpBounds(
        reference=g0,
        exposed=g1,
        difference_observed=g1.risk_observed - g0.risk_observed,
        difference_lowest=g1.risk_lowest - g0.risk_highest,
        difference_highest=g1.risk_highest - g0.risk_lowest,
        difference_all_events=g1.risk_highest - g0.risk_highest,
        difference_no_events=g1.risk_lowest - g0.risk_lowest,
        grid_shares=shares,
        grid=grid,
        tipping_share=_tipping(g0, g1),
        method=method,
        valid=True,
        reason="",
    )


def _group(y: Array) -> GroupFollowUp:
    n, observed = int(y.size), int(np.isfinite(y).sum())
    events = int(np.count_nonzero(y == 1.0))
    risk = events / observed if observed else NAN
    lowest = events / n if n else NAN
    highest = (events + n - observed) / n if n else NAN
    return GroupFollowUp(n, observed, events, risk, lowest, highest)


def _risk_with(group: GroupFollowUp, share: float) -> float:
    return (group.events + share * (group.n - group.observed)) / group.n


def _tipping(g0: GroupFollowUp, g1: GroupFollowUp) -> float:
    missing = g1.n - g1.observed
    if missing == 0:
        return math.nan
    share = (g0.risk_observed * g1.n - g1.events) / missing
    return share if 0 <= share <= 1 else math.nan
