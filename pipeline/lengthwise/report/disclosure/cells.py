"""Every count that a result gives away, with the sums that tie the counts together."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import pandas as pd

from lengthwise.report.disclosure.families import COUNT, FLOW_PARENTS, SHARE
from lengthwise.report.run_data import Row

Equation = dict[str, int]  # cell: coefficient; the sum over its cells is nought


@dataclass(frozen=True, slots=True)
class RowCells:
    """The cells of one result: how many of how many, how many not; empty where it has none."""

    numerator: str = ""
    complement: str = ""
    denominator: str = ""

    @property
    def all(self) -> tuple[str, str, str]:
        return (self.numerator, self.complement, self.denominator)

    @property
    def named(self) -> tuple[str, ...]:
        return tuple(name for name in self.all if name)

    @property
    def printed(self) -> tuple[str, ...]:
        """Return the cells whose count is printed; a complement follows by subtraction."""
        return tuple(name for name in (self.numerator, self.denominator) if name)

    @property
    def subject(self) -> str:
        """Return the cell that the result is about: what is counted, else the group."""
        return self.numerator or self.denominator


@dataclass(slots=True)
class Tabulation:
    """All cells by name with their true counts, the equations that hold, and each row's cells.

    `implied` are cells that no result shows, but that a difference of two others gives.
    """

    counts: dict[str, int] = field(default_factory=dict)
    equations: list[Equation] = field(default_factory=list)
    rows: dict[int, RowCells] = field(default_factory=dict)
    implied: set[str] = field(default_factory=set)


def place_of(row: Row) -> str:
    """Return where a result belongs: its kind of stratum, the stratum and the period."""
    return f"{row['stratum_kind']}:{row['stratum']}@{row['period']}"


def tabulate(rows: pd.DataFrame) -> Tabulation:
    """Return the cells of the shareable rows, without the sums between different results."""
    table = Tabulation()
    for index, row in rows.iterrows():
        cells = _cells_of(row)
        table.rows[index] = cells
        for name, value in zip(cells.all, _values(row), strict=True):
            if name and not pd.isna(value):
                # A result without an n of its own does not make the group empty.
                table.counts[name] = max(int(value), table.counts.get(name, 0))
        if cells.complement and cells.complement in table.counts:
            table.equations.append(dict(zip(cells.all, (1, 1, -1), strict=True)))
    return table


def _values(row: Row) -> Iterator[float]:
    kind = row["family"].kind
    numerator, denominator = row["numerator"], row["denominator"]
    if kind == COUNT and pd.isna(numerator):
        numerator = row["estimate"]
    yield numerator
    yield denominator - numerator if not pd.isna(numerator + denominator) else float("nan")
    yield denominator if kind in (SHARE, COUNT) or not pd.isna(numerator) else row["n_used"]


def _cells_of(row: Row) -> RowCells:
    kind, subject, place = row["family"].kind, row["subject"], place_of(row)
    if kind == COUNT:
        return _flow(subject, place, has_parent=not pd.isna(row["denominator"]))
    if kind == SHARE:
        group = _group(row, place)
        numerator = f"{group}|{subject}|{row['measure']}"
        return RowCells(numerator, f"{numerator}|not", group)
    if not pd.isna(row["numerator"]) and row["analysis"] == "A7":
        group = f"A7|{subject}|{row['reference']}|{row['stratum_kind']}@{row['period']}"
        numerator = f"{group}|{row['stratum']}"
        return RowCells(numerator, "", group)
    return RowCells(denominator=_group(row, place))


def _flow(subject: str, place: str, *, has_parent: bool) -> RowCells:
    numerator, parent = f"flow|{place}|{subject}", FLOW_PARENTS[subject]
    if not parent or not has_parent:
        return RowCells(numerator)
    return RowCells(numerator, f"{numerator}|not", f"flow|{place}|{parent}")


def _group(row: Row, place: str) -> str:
    """Return the name of the group that a result counts in."""
    subject, reference, analysis = row["subject"], row["reference"], row["analysis"]
    if row["section"] == "fill":
        return f"fill|{place}|{'all' if subject == 'not_assessable' else 'assessed'}"
    if analysis in ("A2", "A6"):
        return f"agreement|{subject}|{reference}|{place}"
    if analysis == "chain":
        return f"chain|{place}"
    if analysis == "B7":
        return f"B7|{place}|{row['measure']}|{subject}"
    return f"{row['section']}|{analysis}|{subject}|{place}"
