"""How the periods of two releases lie to each other."""

import re

SAME, LONGER, APART, OVERLAPPING = "same", "longer", "apart", "overlapping"
_END = re.compile(r"(\d{4})-(?:Q([1-4])|(\d{2}))")


def relation(earlier: str, later: str) -> str:
    """Return how the later period lies to the earlier one.

    same; longer: it holds the earlier one whole, so that a difference is the time added;
    apart: they share no month; overlapping: anything else.
    """
    if earlier == later:
        return SAME
    one, other = months(earlier), months(later)
    if one is None or other is None:
        return OVERLAPPING
    if one[1] < other[0] or other[1] < one[0]:
        return APART
    return LONGER if other[0] <= one[0] and one[1] <= other[1] else OVERLAPPING


def begins_alike(earlier: str, later: str) -> bool:
    """Return whether both begin with the same month, as a span that grows does."""
    one, other = months(earlier), months(later)
    return one is not None and other is not None and one[0] == other[0]


def length(period: str) -> int:
    """Return the number of months, nought where the period cannot be read."""
    ends = months(period)
    return ends[1] - ends[0] + 1 if ends else 0


def months(period: str) -> tuple[int, int] | None:
    """Return the first and last month of a period, counted from year 0; None if unreadable."""
    first, _, last = period.partition("..")
    ends = _END.fullmatch(first), _END.fullmatch(last or first)
    if ends[0] is None or ends[1] is None:
        return None
    return _month(ends[0], 1), _month(ends[1], 3)


def _month(match: re.Match[str], month_of_quarter: int) -> int:
    year, quarter, month = match.groups()
    within = int(month) if month else 3 * (int(quarter) - 1) + month_of_quarter
    return 12 * int(year) + within
