"""Tie the counts of this release to those of earlier ones, as somebody with both packs can."""

from collections.abc import Mapping

from lengthwise.report.disclosure.cells import Equation, Tabulation
from lengthwise.report.disclosure.periods import LONGER, SAME, relation
from lengthwise.report.disclosure.profiles import Profile
from lengthwise.report.disclosure.protection import Bounds, bounds_of
from lengthwise.report.disclosure.releases import Earlier, least_step

BEFORE, ADDED = "before:", "added:"
QUARTER = "|quarter:"


def tie(
    table: Tabulation, references: Mapping[int, tuple[str, Earlier]], profile: Profile
) -> tuple[dict[str, Bounds], set[str]]:
    """Add to the table that a longer period is an earlier one and what was added to it.

    Parameters
    ----------
    references : mapping
        Row index to the row's own period and the earlier result it is held against.

    Returns
    -------
    tuple
        What the earlier packs say of their counts, and the additions that must not become
        known since they may be small.
    """
    bounds: dict[str, Bounds] = {}
    guarded: set[str] = set()
    names: dict[str, str] = {}
    for index, (period, earlier) in references.items():
        kind = relation(earlier.period, period)
        if kind == SAME:
            names.update((cell, cell) for cell in table.rows[index].named)
        elif kind == LONGER and earlier.is_shown:
            _tie_row(table, index, earlier, profile, (bounds, guarded, names))
        elif kind == LONGER:
            # How large it was is not on record, so neither it nor what was added may show.
            hidden = [cell for cell in table.rows[index].named if cell in table.counts]
            names.update((cell, BEFORE + cell) for cell in hidden)
            guarded |= {mark + cell for cell in hidden for mark in (BEFORE, ADDED)}
    table.equations += [
        mapped for equation in table.equations if (mapped := _earlier(equation, names))
    ] + [{cell: 1, old: -1, ADDED + cell: -1} for cell, old in names.items() if cell != old]
    return bounds, guarded


def _tie_row(
    table: Tabulation, index: int, earlier: Earlier, profile: Profile,
    known: tuple[dict[str, Bounds], set[str], dict[str, str]],
) -> None:  # fmt: skip
    bounds, guarded, names = known
    cells, numbers = table.rows[index], earlier.numbers
    told = {cells.numerator: numbers["numerator"], cells.denominator: numbers["denominator"]}
    if not cells.numerator:
        told = {cells.denominator: numbers["n_used"]}
    for cell, shown in told.items():
        if cell and shown is not None:
            names[cell] = BEFORE + cell
            bounds[BEFORE + cell] = bounds_of(int(shown), profile)
            grown = profile.rounded(table.counts[cell]) - shown
            if grown < least_step(profile):
                guarded.add(ADDED + cell)
    if cells.complement and cells.numerator in names and cells.denominator in names:
        _tie_rest(table, index, earlier, profile, known)


def _tie_rest(
    table: Tabulation, index: int, earlier: Earlier, profile: Profile,
    known: tuple[dict[str, Bounds], set[str], dict[str, str]],
) -> None:  # fmt: skip
    bounds, guarded, names = known
    cell = table.rows[index].complement
    whole, part = earlier.numbers["denominator"], earlier.numbers["numerator"]
    if whole is None or part is None:
        return
    names.setdefault(cell, BEFORE + cell)
    bounds.setdefault(names[cell], Bounds(profile.minimum_count))
    if profile.rounded(table.counts[cell]) - (whole - part) < least_step(profile):
        guarded.add(ADDED + cell)


def _earlier(equation: Equation, names: Mapping[str, str]) -> Equation:
    """Return the same sum as it held for the earlier pack, empty where it says nothing new.

    Quarters that were not yet there then fall out of the sum.
    """
    mapped = {names[cell]: weight for cell, weight in equation.items() if cell in names}
    missing = [cell for cell in equation if cell not in names]
    is_whole = all(QUARTER in cell for cell in missing)
    return mapped if is_whole and len(mapped) > 1 and set(mapped) - set(equation) else {}
