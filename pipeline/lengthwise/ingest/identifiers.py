"""Looks for direct identifiers in one column at a time, and says where, never what.

`connection` is an open database connection; values are counted there, and only different
values that look like long numbers ever come into Python, to test their check digits.
"""

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lengthwise.errors import IdentifierError
from lengthwise.ingest.identifier_keys import (
    births,
    places,
    plain_numbers,
    words_among_codes,
)
from lengthwise.ingest.identifier_numbers import number_class
from lengthwise.ingest.identifier_patterns import (
    CANDIDATE_NUMBER,
    FREE_TEXT_PATTERN,
    LEAST_VALUES,
    LONE_NAME,
    NOT_SO_PLAIN,
    PLAIN_CODE,
    ROLES,
    SHARE,
    SHARED,
    SHARED_IN_KEYS,
    TELLING,
    literal,
)
from lengthwise.ingest.identifier_words import FREE_TEXT, NAME, RECORD, header_class

OWN_COLUMNS = frozenset({"_file", "_row", "_codes"})
_LOOKED_AT = 1_000  # different values of a column whose check digits are tested
_SHOWN_ROWS = 5
_MOSTLY_DIFFERENT = 0.3  # names of people differ from row to row, names of materials do not


@dataclass(frozen=True, slots=True)
class Column:
    """One column to look through.

    `relation` is SQL that gives `row_number` and `value`; `is_key` says that the column holds
    codes of persons, `is_patient` of patients, `is_site` of places, `is_date` days or months of
    treatments or reviews; `may_be_free_text` that the mapping names a reason to leave it out.
    """

    place: str
    relation: str
    parameters: dict[str, Any]
    is_key: bool = False
    is_patient: bool = False
    is_site: bool = False
    is_date: bool = False
    may_be_free_text: bool = False


@dataclass(frozen=True, slots=True)
class Hit:
    """A column that seems to identify people: where, which class, how many rows, the first."""

    place: str
    kind: str
    n_rows: int
    first_rows: tuple[int, ...]

    def __str__(self) -> str:
        rows = ", ".join(map(str, self.first_rows))
        more = self.n_rows - len(self.first_rows)
        return f"{self.place}: {self.kind}, row {rows}" + (
            f" and {more:,} more" if more else ""
        )


def refuse(hits: list[Hit]) -> None:
    """Raise IdentifierError that names every hit, when there is any."""
    if not hits:
        return
    remedy = "remove the column from the export, or code it with lengthwise pseudonymise"
    if all(hit.kind == FREE_TEXT for hit in hits):
        remedy = (
            "remove the column, or leave it out with a reason: "
            'ignore = { "header" = "reason" } in mapping.toml'
        )
    if any(hit.kind == RECORD for hit in hits):
        remedy += (
            "; bare numbers that are no record numbers are declared in mapping.toml: "
            'random_numbers = { patient_id = "where they come from" }'
        )
    raise IdentifierError(
        "nothing was stored, because direct identifiers seem to be in "
        + "; ".join(map(str, hits))
        + f" (row 1 is the first after the header). What to do: {remedy}"
    )


def header_hits(
    path: Path, name: str, header: tuple[str, ...], separator: str, known: frozenset[str],
    reasoned: frozenset[str], *, skip_lines: int = 0,
) -> list[Hit]:  # fmt: skip
    """Return the columns of a file whose header announces an identifier and that hold a value.

    Parameters
    ----------
    path : Path
        UTF-8 text of the file.
    known : frozenset of str
        Field names of the dictionary, which announce nothing.
    reasoned : frozenset of str
        Headers that the mapping leaves out with a reason: they may announce free text.
    """
    kinds = {}
    for place, cell in enumerate(header):
        kind = "" if cell.lower() in known | OWN_COLUMNS else header_class(cell)
        if kind and not (kind == FREE_TEXT and cell in reasoned):
            kinds[place] = kind
    if not kinds:
        return []
    rows: dict[int, list[int]] = {place: [] for place in kinds}
    with path.open(encoding="utf-8", newline="") as handle:
        for _ in range(skip_lines):
            handle.readline()
        reader = filter(None, csv.reader(handle, delimiter=separator))
        next(reader)
        for number, cells in enumerate(reader, start=1):
            for place in kinds:
                if place < len(cells) and cells[place].strip():
                    rows[place].append(number)
    return [_header_hit(name, at, kinds[at], found) for at, found in rows.items() if found]


def _header_hit(name: str, place: int, kind: str, rows: list[int]) -> Hit:
    where = f"{name} column {place + 1} (by its header)"
    return Hit(where, kind, len(rows), tuple(rows[:_SHOWN_ROWS]))


def _counts(connection: Any, patterns: dict[str, str], table: str) -> dict[str, int]:
    sums = ", ".join(
        f"count(*) filter (regexp_matches(value, {literal(pattern)}))"
        for pattern in patterns.values()
    )
    row = connection.execute(f"select {sums} from {table}").fetchall()[0]
    return dict(zip(patterns, row, strict=True))


def _rows_of(connection: Any, column: Column, pattern: str, kind: str) -> Hit:
    found = connection.execute(
        f"select row_number from ({column.relation}) as cells "
        f"where regexp_matches(trim(value), {literal(pattern)}) order by row_number",
        column.parameters,
    ).fetchall()
    rows = tuple(row[0] for row in found)
    return Hit(column.place, kind, len(rows), rows[:_SHOWN_ROWS])


def _distinct(connection: Any, column: Column) -> tuple[int, int, int]:
    """Leave the odd different values in a table; return (rows, different values, odd ones)."""
    # Counted as they stand first: there are fewer different values than rows to trim.
    connection.execute(
        "create or replace temp table scanned_values as with counted as (select value, "
        f"count(*) as n_rows from ({column.relation}) as cells where value is not null "
        "group by value) select trim(value) as value, cast(sum(n_rows) as bigint) as n_rows "
        "from counted "
        "where trim(value) not in ('', 'not_recorded', 'not_applicable', 'unreadable') "
        "group by trim(value)",
        column.parameters,
    )
    connection.execute(
        "create or replace temp table odd_values as select value from scanned_values "
        f"where not regexp_full_match(value, {literal(PLAIN_CODE)}) "
        f"or regexp_full_match(value, {literal(NOT_SO_PLAIN)})"
    )
    rows, different = connection.execute(
        "select coalesce(sum(n_rows), 0), count(*) from scanned_values"
    ).fetchall()[0]
    odd = connection.execute("select count(*) from odd_values").fetchall()[0][0]
    return int(rows), different, odd


def _telling(connection: Any, column: Column) -> Hit | None:
    any_of_them = "|".join(f"(?:{pattern})" for pattern in TELLING.values())
    if not _counts(connection, {"any": any_of_them}, "odd_values")["any"]:
        return None  # one pass instead of one for each shape, where there is nothing to tell
    patterns = {f"p{at}": pattern for at, pattern in enumerate(TELLING.values())}
    counts = _counts(connection, patterns, "odd_values")
    for kind, (name, pattern) in zip(TELLING, patterns.items(), strict=True):
        if counts[name]:
            return _rows_of(connection, column, pattern, kind)
    return None


def _shared(connection: Any, column: Column, n_rows: int, different: int) -> Hit | None:
    shapes = [(kind, pattern, LEAST_VALUES) for kind, pattern in SHARED.items()]
    if column.is_key:
        shapes += [(kind, pattern, 1) for kind, pattern in SHARED_IN_KEYS.items()]
        connection.execute(
            "delete from odd_values where list_contains($roles, lower(value))",
            {"roles": ROLES.split()},
        )
    else:
        shapes.append((NAME, LONE_NAME, 4 * LEAST_VALUES))
    patterns = {f"p{at}": pattern for at, (_, pattern, _) in enumerate(shapes)}
    counts = _counts(connection, patterns, "odd_values")
    for (kind, pattern, least), count in zip(shapes, counts.values(), strict=True):
        repeated = kind == NAME and not column.is_key and different < _MOSTLY_DIFFERENT * n_rows
        if count >= max(least, SHARE * different) and not repeated:
            return _rows_of(connection, column, pattern, kind)
    return None


def _numbers(connection: Any, column: Column, different: int) -> Hit | None:
    values = connection.execute(
        "select value from odd_values where regexp_full_match(value, "
        f"{literal(CANDIDATE_NUMBER)}) order by hash(value) limit {_LOOKED_AT}"
    ).fetchall()
    kind, passing = number_class((row[0] for row in values), min(different, _LOOKED_AT))
    if not kind:
        return None
    return _rows_with(connection, column, kind, passing)


def _rows_with(connection: Any, column: Column, kind: str, values: list[str]) -> Hit:
    found = connection.execute(
        f"select row_number from ({column.relation}) as cells "
        "where list_contains($passing, trim(value)) order by row_number",
        {**column.parameters, "passing": values},
    ).fetchall()
    return Hit(column.place, kind, len(found), tuple(row[0] for row in found[:_SHOWN_ROWS]))


def _standing_out(connection: Any, column: Column) -> Hit | None:
    """Return what stands out in a column that the dictionary knows."""
    rules = [
        (column.is_key, words_among_codes),
        (column.is_patient, plain_numbers),
        (column.is_site, places),
        (column.is_date, births),
    ]
    for applies, rule in rules:
        kind, values = rule(connection) if applies else ("", [])
        if kind:
            return _rows_with(connection, column, kind, values)
    return None


def scan(connection: Any, column: Column) -> Hit | None:
    """Return what a column's values give away, or None; the most telling class comes first."""
    n_rows, different, odd = _distinct(connection, column)
    if column.is_date:
        return _standing_out(connection, column)
    hit = None
    if odd:
        hit = _telling(connection, column) or _numbers(connection, column, different)
        hit = hit or _shared(connection, column, n_rows, different)
    hit = hit or _standing_out(connection, column)
    if hit or column.may_be_free_text or not odd:
        return hit
    if _counts(connection, {"words": FREE_TEXT_PATTERN}, "odd_values")["words"]:
        return _rows_of(connection, column, FREE_TEXT_PATTERN, FREE_TEXT)
    return None
