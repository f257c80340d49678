"""Hide small counts, and then as many more as it takes that no difference gives them back."""

from collections.abc import Collection, Mapping

from lengthwise.report.disclosure.cells import Equation, Tabulation
from lengthwise.report.disclosure.profiles import Profile
from lengthwise.report.disclosure.protection import Bounds, bounds_of, components, feasible

SLACK = 1e-6


def sensitive_cells(table: Tabulation, profile: Profile) -> set[str]:
    """Return the cells that are too small to be known."""
    shown = {name for cells in table.rows.values() for name in cells.named}
    small = {name for name in shown if name in table.counts and _is_small(table, name, profile)}
    # A difference of nought says that two groups are one, which points at nobody.
    rest = {name for name in table.implied if 0 < table.counts[name] < profile.minimum_count}
    return small | rest


def _is_small(table: Tabulation, name: str, profile: Profile) -> bool:
    return profile.is_small(table.counts[name])


def small_rows(table: Tabulation, profile: Profile) -> set[int]:
    """Return the rows that hold a count too small to be shown."""
    sensitive = sensitive_cells(table, profile)
    return {i for i, cells in table.rows.items() if sensitive & set(cells.named)}


def hidden_rows(
    table: Tabulation, profile: Profile, *, also: Collection[int] = (),
    earlier: Mapping[str, Bounds] | None = None, guarded: Collection[str] = (),
    public: Collection[int] = (),
) -> set[int]:  # fmt: skip
    """Return the rows to hide: those with small counts, and as many as protect those.

    Parameters
    ----------
    also : collection of int
        Rows to hide whatever their counts are.
    earlier : mapping
        What is known of cells from elsewhere, such as a pack shared before.
    guarded : collection of str
        Further cells that must not become known.
    public : collection of int
        Rows that were shared before as they are: to hide them now would protect nothing.
    """
    hidden = small_rows(table, profile) | set(also)
    guarded = sensitive_cells(table, profile) | set(guarded)
    for group in components(table.equations):
        hidden |= _protected(table, group, hidden, profile, earlier or {}, guarded, set(public))
    return hidden


def _protected(
    table: Tabulation, equations: list[Equation], hidden: set[int], profile: Profile,
    earlier: Mapping[str, Bounds], guarded: Collection[str], public: set[int],
) -> set[int]:  # fmt: skip
    """Return the rows to hide in one group of tied cells, so that no guarded cell is exposed."""
    cells = {name for equation in equations for name in equation}
    own = {i for i, row in table.rows.items() if cells & set(row.named)}
    guarded = sorted(cells & set(guarded))
    given = frozenset(hidden & own)
    hidden, wanted = set(given), guarded

    def exposed(names: Collection[str], hidden: Collection[int]) -> list[str]:
        known = {**shown_bounds(table, own - set(hidden), profile), **_of(earlier, cells)}
        found = feasible(equations, known, names)
        return [name for name in names if _is_exposed(found[name], profile)]

    # Protected cells stay so: hiding more never narrows what can be worked out.
    while (wanted := exposed(wanted, hidden)) and not hidden >= own - public:
        shown = own - hidden
        choices = _choices(table, equations, shown - public, wanted[0])
        hidden |= _best(table, equations, shown, choices, wanted[0], profile, earlier)
    # Not all that was hidden on the way is still needed: show the largest counts again first.
    for rows in sorted(_by_subject(table, hidden - given), key=lambda g: -_count(table, g)):
        if not wanted and not exposed(guarded, hidden - rows):
            hidden -= rows
    return hidden


def _by_subject(table: Tabulation, rows: Collection[int]) -> list[set[int]]:
    groups: dict[str, set[int]] = {}
    for index in sorted(rows):
        groups.setdefault(table.rows[index].subject, set()).add(index)
    return list(groups.values())


def _count(table: Tabulation, rows: Collection[int]) -> int:
    return table.counts.get(table.rows[min(rows)].subject, 0)


def _choices(
    table: Tabulation, equations: list[Equation], shown: set[int], exposed: str
) -> list[set[int]]:
    """Return sets of shown rows about one cell each, nearest to the exposed cell only.

    Rows of one cell go together: hidden in one table, a count is hidden in all. Counts of
    the flow of cases go first, then the smallest.
    """
    reached = {exposed}
    while True:
        near = {name for equation in equations if reached & set(equation) for name in equation}
        groups: dict[str, set[int]] = {}
        for index in shown:
            if near & set(table.rows[index].named):
                groups.setdefault(table.rows[index].subject, set()).add(index)
        if groups or near <= reached:
            break
        reached |= near
    order = sorted(groups, key=lambda name: (not name.startswith("flow"), table.counts[name]))
    return [groups[name] for name in order] or [set(shown)]


def _best(
    table: Tabulation, equations: list[Equation], shown: set[int], choices: list[set[int]],
    exposed: str, profile: Profile, earlier: Mapping[str, Bounds],
) -> set[int]:  # fmt: skip
    """Return the first choice that protects the cell by itself, else the first of all."""
    for rows in choices:
        known = {**shown_bounds(table, shown - rows, profile), **earlier}
        found = feasible(equations, known, [exposed])
        if not _is_exposed(found[exposed], profile):
            return rows
    return choices[0]


def shown_bounds(
    table: Tabulation, rows: Collection[int], profile: Profile
) -> dict[str, Bounds]:
    """Return what the shown rows say of their cells."""
    # A complement is not printed; that its row is shown tells that it is not small.
    least = Bounds(profile.minimum_count if profile.hides_nought else 0)
    known = {table.rows[i].complement: least for i in rows if table.rows[i].complement}
    printed = {name for i in rows for name in table.rows[i].printed if name in table.counts}
    return known | {name: bounds_of(table.counts[name], profile) for name in printed}


def _of(known: Mapping[str, Bounds], cells: Collection[str]) -> dict[str, Bounds]:
    return {name: bounds for name, bounds in known.items() if name in cells}


def _is_exposed(bounds: Bounds, profile: Profile) -> bool:
    """Return whether too few values are left, in all or among those that are masked.

    Somebody who takes a masked count for a small one must be left with half of those. A
    count that cannot be small need not be kept from anybody.
    """
    if bounds.lower >= profile.minimum_count:
        return False
    spread = bounds.upper - bounds.lower
    among_small = min(bounds.upper, profile.width) - bounds.lower
    return spread < profile.width - SLACK or among_small < profile.width // 2 - SLACK
