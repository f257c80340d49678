"""The sums between results that anybody can guess: parts of a whole, and one count told twice."""

from collections.abc import Callable, Iterator

import pandas as pd

from lengthwise.report.disclosure.cells import Equation, RowCells, Tabulation, place_of
from lengthwise.report.disclosure.families import LEVELS, SHARE
from lengthwise.report.run_data import Row

SUMMED = ("quarter", "tooth_type")


def relate(table: Tabulation, rows: pd.DataFrame, summed: tuple[str, ...] = SUMMED) -> None:
    """Add to the table every such sum that holds in the true counts.

    `summed` are the kinds of stratum that cut the whole up.
    """
    shares = rows[[family.kind == SHARE for family in rows["family"]]]
    for equation in _candidates(table, rows, shares):
        if set(equation) <= set(table.counts) and _balance(table, equation) == 0:
            table.equations.append(equation)
    _add_rests(table, shares, summed)
    _add_bands(table, rows)
    _merge(table)


def _merge(table: Tabulation) -> None:
    """Give one name to a count that is told twice, so that it is hidden everywhere or nowhere."""
    known: dict[str, str] = {}

    def first(name: str) -> str:
        while name in known:
            name = known[name]
        return name

    for equation in table.equations:
        if sorted(equation.values()) == [-1, 1]:
            one, other = sorted(first(name) for name in equation)
            if one != other:
                known[other] = one
    renamed = [_renamed(equation, first) for equation in table.equations]
    table.equations = [equation for equation in renamed if equation]
    table.counts = {first(name): count for name, count in table.counts.items()}
    table.implied = {first(name) for name in table.implied}
    table.rows = {
        index: RowCells(*(first(name) if name else "" for name in cells.all))
        for index, cells in table.rows.items()
    }


def _renamed(equation: Equation, first: Callable[[str], str]) -> Equation:
    weights: Equation = {}
    for name, weight in equation.items():
        weights[first(name)] = weights.get(first(name), 0) + weight
    return {name: weight for name, weight in weights.items() if weight}


def _candidates(
    table: Tabulation, rows: pd.DataFrame, shares: pd.DataFrame
) -> Iterator[Equation]:
    fill = shares[shares["section"] == "fill"]
    for place in dict.fromkeys(place_of(row) for _, row in fill.iterrows()):
        yield from _levels(table, place)
    for _, row in shares[shares["section"] == "criteria"].iterrows():
        yield from _criterion(table, row)
    yield from _quarters(table, shares[shares["stratum_kind"] == "quarter"])
    yield from _chain(shares[shares["analysis"] == "chain"])
    yield from _conditions(table, rows[rows["analysis"] == "A7"])


def _levels(table: Tabulation, place: str) -> Iterator[Equation]:
    assessed, everything = f"fill|{place}|assessed", f"fill|{place}|all"
    names = {
        level: f"{everything if level == 'not_assessable' else assessed}|{level}|share"
        for level in LEVELS
    }
    three = {names[level]: 1 for level in LEVELS[:3]}
    hidden = names["not_assessable"]
    yield {**three, assessed: -1}
    yield {**three, hidden: 1, everything: -1}
    yield {assessed: 1, f"{hidden}|not": -1}
    if table.counts.get(hidden):
        # Only where what cannot be assessed is counted in: else they are equal by chance.
        yield {assessed: 1, everything: -1}
    yield {assessed: 1, f"flow|{place}|fills_assessable": -1}
    yield {everything: 1, f"flow|{place}|fills": -1}


def _criterion(table: Tabulation, row: Row) -> Iterator[Equation]:
    place = place_of(row)
    group = f"criteria|B1|{row['subject']}|{place}"
    numerator = f"{group}|{row['subject']}|share"
    if row["subject"] == "fill_within":
        yield {group: 1, f"fill|{place}|assessed": -1}
        yield {numerator: 1, f"fill|{place}|assessed|within|share": -1}
    # One count told twice, whatever the criterion is called.
    for name in [cell for cell in table.counts if cell.startswith("flow|")]:
        yield {group: 1, name: -1}
        yield {numerator: 1, name: -1}


def _quarters(table: Tabulation, rows: pd.DataFrame) -> Iterator[Equation]:
    """Tie a quarter among the quarters to the same quarter as the report's own period."""
    for index, row in rows.iterrows():
        here, alone = place_of(row), f":@{row['stratum']}"
        for name in table.rows[index].named:
            yield {name: 1, name.replace(here, alone): -1}


def _chain(rows: pd.DataFrame) -> Iterator[Equation]:
    for _, row in rows[rows["measure"] == "share_doubtful"].iterrows():
        group = f"chain|{place_of(row)}"
        numerator = f"{group}|{row['subject']}|share_doubtful"
        doubtful, other = (f"chain|readings:{s}@{row['period']}" for s in ("doubtful", "other"))
        yield {numerator: 1, doubtful: -1}
        yield {f"{numerator}|not": 1, other: -1}


def _conditions(table: Tabulation, rows: pd.DataFrame) -> Iterator[Equation]:
    groups: dict[str, set[str]] = {}
    for index in rows.index:
        cells = table.rows[index]
        if cells.numerator:
            groups.setdefault(cells.denominator, set()).add(cells.numerator)
    for group, parts in groups.items():
        yield {**dict.fromkeys(sorted(parts), 1), group: -1}


def _add_rests(table: Tabulation, shares: pd.DataFrame, summed: tuple[str, ...]) -> None:
    """Tie the strata of a kind to the whole; what they leave over is a cell of its own."""
    fill = shares[(shares["section"] == "fill") & shares["stratum_kind"].isin(summed)]
    for kind, own in fill.groupby("stratum_kind", sort=True):
        places = sorted({place_of(row) for _, row in own.iterrows()})
        whole = _whole_place(shares, own)
        if whole:
            _tie(table, str(kind), places, whole)


def _whole_place(shares: pd.DataFrame, own: pd.DataFrame) -> str:
    """Return the place of the whole span that the strata cut up, if it is shown."""
    wholes = shares[(shares["section"] == "fill") & (shares["stratum_kind"] == "")]
    spans = {place_of(row) for _, row in wholes.iterrows()}
    same = {f":@{period}" for period in own["period"]} & spans
    wide = {place for place in spans if ".." in place or place.startswith(":@")}
    found = sorted(same or wide)
    return found[0] if len(found) == 1 else ""


def _tie(table: Tabulation, kind: str, places: list[str], whole: str) -> None:
    suffixes = ("assessed", "all", *(f"assessed|{level}|share" for level in LEVELS[:3]))
    for suffix in (*suffixes, "all|not_assessable|share"):
        parts = [f"fill|{place}|{suffix}" for place in places]
        total = f"fill|{whole}|{suffix}"
        if not {*parts, total} <= set(table.counts):
            continue
        rest = table.counts[total] - sum(table.counts[part] for part in parts)
        equation = {**dict.fromkeys(parts, 1), total: -1}
        if rest > 0:
            name = f"rest|{kind}|{suffix}"
            equation[name] = 1
            table.counts[name] = rest
            table.implied.add(name)
        if rest >= 0:
            table.equations.append(equation)


def _add_bands(table: Tabulation, rows: pd.DataFrame) -> None:
    """Count what lies between the two tolerances of one comparison."""
    for group in sorted(
        {table.rows[i].denominator for i in rows[rows["analysis"] == "A6"].index}
    ):
        subject = group.split("|")[1]
        near, far = (f"{group}|{subject}|share_within_{mm}" for mm in ("0_5", "1_0"))
        if {near, far} <= set(table.counts):
            name = f"{group}|band"
            table.counts[name] = table.counts[far] - table.counts[near]
            table.implied.add(name)
            table.equations.append({near: 1, name: 1, far: -1})


def _balance(table: Tabulation, equation: Equation) -> int:
    return sum(weight * table.counts[name] for name, weight in equation.items())
