"""Differences of two shares, independent and paired, by squaring and adding Wilson limits."""

import math

from lengthwise.statistics.proportions import wilson_bounds
from lengthwise.statistics.results import Estimate, refused

INDEPENDENT = "difference of two shares (Newcombe 1998, method 10)"
PAIRED = "difference of paired shares (Newcombe 1998, method {number})"


def newcombe_difference(
    events_1: int, cases_1: int, events_2: int, cases_2: int, *, level: float = 0.95
) -> Estimate:
    """Share 1 minus share 2 for independent groups.

    Parameters
    ----------
    events_1, cases_1, events_2, cases_2 : int
        Counts of the two groups.
    level : float
        Confidence level, 0-1.

    Returns
    -------
    Estimate
        Difference of proportions, -1 to 1; `n_used` is the sum of both groups. Not valid
        when a group has no cases.

    Raises
    ------
    ValueError
        When a count is negative or events exceed cases.

    Notes
    -----
    Assumes independent cases. For cases clustered in patients use `period_change`.

    References
    ----------
    Newcombe RG. Stat Med 1998;17:873-890, method 10.
    doi:10.1002/(SICI)1097-0258(19980430)17:8<873::AID-SIM779>3.0.CO;2-I
    """
    for events, cases in ((events_1, cases_1), (events_2, cases_2)):
        _check_counts(events, cases)
    total = cases_1 + cases_2
    if 0 in (cases_1, cases_2):
        return refused("one group has no cases", method=INDEPENDENT, n_used=total, level=level)
    share_1, low_1, high_1 = _wilson(events_1, cases_1, level)
    share_2, low_2, high_2 = _wilson(events_2, cases_2, level)
    difference = share_1 - share_2
    lower = difference - math.hypot(share_1 - low_1, high_2 - share_2)
    upper = difference + math.hypot(high_1 - share_1, share_2 - low_2)
    return Estimate(difference, max(lower, -1.0), min(upper, 1.0), level, total, 0, INDEPENDENT)


def newcombe_paired(
    both: int,
    first_only: int,
    second_only: int,
    neither: int,
    *,
    level: float = 0.95,
    continuity: bool = True,
) -> Estimate:
    """First share minus second share, both taken on the same cases.

    Parameters
    ----------
    both, first_only, second_only, neither : int
        The four cells of the paired table.
    level : float
        Confidence level, 0-1.
    continuity : bool
        True: method 10, whose correlation carries a continuity correction. False: method 8.

    Returns
    -------
    Estimate
        Difference of proportions, -1 to 1; `n_used` is the number of pairs.

    Raises
    ------
    ValueError
        When a cell is negative.

    Notes
    -----
    Assumes independent pairs.

    References
    ----------
    Newcombe RG. Stat Med 1998;17:2635-2650, methods 8 and 10.
    doi:10.1002/(SICI)1097-0258(19981130)17:22<2635::AID-SIM954>3.0.CO;2-C
    """
    cells = (both, first_only, second_only, neither)
    if min(cells) < 0:
        raise ValueError("cells of a paired table must not be negative")
    method = PAIRED.format(number=10 if continuity else 8)
    pairs = sum(cells)
    if pairs == 0:
        return refused("there are no pairs", method=method, level=level)
    share_1, low_1, high_1 = _wilson(both + first_only, pairs, level)
    share_2, low_2, high_2 = _wilson(both + second_only, pairs, level)
    correlation = _table_correlation(*cells, continuity=continuity)
    lower = _correlated_half(share_1 - low_1, high_2 - share_2, correlation)
    upper = _correlated_half(high_1 - share_1, share_2 - low_2, correlation)
    difference = (first_only - second_only) / pairs
    return Estimate(difference, difference - lower, difference + upper, level, pairs, 0, method)


def _correlated_half(first: float, second: float, correlation: float) -> float:
    return math.sqrt(max(first**2 - 2 * correlation * first * second + second**2, 0.0))


def _table_correlation(
    both: int, first_only: int, second_only: int, neither: int, *, continuity: bool
) -> float:
    margins = (
        (both + first_only)
        * (second_only + neither)
        * (both + second_only)
        * (first_only + neither)
    )
    if margins == 0:
        return 0.0
    cross = float(both * neither - first_only * second_only)
    if continuity and cross > 0:
        pairs = both + first_only + second_only + neither
        cross = max(cross - pairs / 2, 0.0)
    return cross / math.sqrt(margins)


def _check_counts(events: int, cases: int) -> None:
    if events < 0 or cases < 0 or events > cases:
        raise ValueError("events must lie between 0 and the number of cases")


def _wilson(events: int, cases: int, level: float) -> tuple[float, float, float]:
    lower, upper = wilson_bounds(events, cases, level=level)
    share = events / cases
    # Rounding must not push a limit past the share it belongs to.
    return share, min(lower, share), max(upper, share)
