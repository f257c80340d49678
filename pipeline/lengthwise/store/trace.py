"""Counts a number's cases step by step, and finds the stored rows behind them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from lengthwise.dictionary import all_schemas
from lengthwise.errors import AnalysisError
from lengthwise.store.database import Connection, plain_errors

# A condition from the practice's own criteria is one condition and nothing more.
FORBIDDEN = (";", "--", "/*")


@dataclass(frozen=True, slots=True)
class Step:
    """One narrowing of the cases: what it says, and the condition on the table's columns."""

    words: str
    condition: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Source:
    """Rows of one file that lie behind a number, by row number only."""

    export: str
    file_name: str
    load_id: int
    row_numbers: tuple[int, ...]


def counting_sql(table: str, count: str, steps: Iterable[Step]) -> str:
    """Return the query that counts the cases which pass every step."""
    conditions = [f"({_checked(step.condition)})" for step in steps]
    narrowed = "\n    and ".join(conditions)
    where = f"\nwhere {narrowed}" if narrowed else ""
    return f"select {count}\nfrom {table}{where}"


def counted(
    connection: Connection, table: str, count: str, steps: tuple[Step, ...]
) -> tuple[int, ...]:
    """Return the number of all cases, then of those left after each step.

    Raises
    ------
    StoreError
        The table or a column is not there; the run was made by another version.
    """
    conditions = [f"({_checked(step.condition)})" for step in steps]
    left = [
        f"{count} filter (where {' and '.join(conditions[:place])})"
        for place in range(1, len(steps) + 1)
    ]
    with plain_errors("counting the cases"):
        rows = connection.execute(
            f"select {', '.join([count, *left])} from {table}", _values(steps)
        ).fetchall()
    return tuple(int(value or 0) for value in rows[0])


def source_rows(
    connection: Connection, table: str, steps: tuple[Step, ...], exports: tuple[str, ...],
    methods: tuple[str, ...] = (),
) -> list[Source]:  # fmt: skip
    """Return the rows of each export whose keys are among the cases that pass every step.

    Parameters
    ----------
    methods : tuple of str
        Of readings, only those by these methods; empty for all.
    """
    if table.startswith("record."):
        return _own_rows(connection, table, steps)
    columns = _columns(connection, table)
    found = []
    for export in exports:
        # A review may stand for the whole tooth, so it is not joined by canal.
        by_canal = "canal" in columns & _names(export) and export != "follow_ups"
        joined = ["treatment_id", "canal"] if by_canal else ["treatment_id"]
        found += _rows_of(connection, table, steps, export, joined, methods)
    return found


def _rows_of(
    connection: Connection, table: str, steps: tuple[Step, ...], export: str,
    joined: list[str], methods: tuple[str, ...],
) -> list[Source]:  # fmt: skip
    keys = counting_sql(table, f"distinct {', '.join(joined)}", steps)
    values = dict(_values(steps))
    narrowed = ""
    if methods and export == "readings":
        narrowed = " and stored.method in (select unnest($methods))"
        values["methods"] = list(methods)
    sql = (
        "select files.file_name, stored.load_id, stored.row_number "
        f"from record.{export} as stored "
        f"inner join ({keys}) as keys using ({', '.join(joined)}) "
        "inner join record.load_files as files on files.load_id = stored.load_id "
        "and files.file_number = stored.file_number "
        f"where stored.superseded_by is null{narrowed} order by 2, 1, 3"
    )
    return _grouped(connection, sql, values, export)


def _own_rows(connection: Connection, table: str, steps: tuple[Step, ...]) -> list[Source]:
    export = table.partition(".")[2]
    conditions = "".join(f" and ({_checked(step.condition)})" for step in steps)
    sql = (
        "select files.file_name, stored.load_id, stored.row_number "
        f"from {table} as stored "
        "inner join record.load_files as files on files.load_id = stored.load_id "
        "and files.file_number = stored.file_number "
        f"where stored.superseded_by is null{conditions} order by 2, 1, 3"
    )
    return _grouped(connection, sql, _values(steps), export)


def _grouped(
    connection: Connection, sql: str, values: Mapping[str, Any], export: str
) -> list[Source]:
    with plain_errors("finding the rows"):
        rows = connection.execute(sql, dict(values)).fetchall()
    groups: dict[tuple[str, int], list[int]] = {}
    for name, load, number in rows:
        groups.setdefault((str(name), int(load)), []).append(int(number))
    return [Source(export, *key, tuple(numbers)) for key, numbers in groups.items()]


def _columns(connection: Connection, table: str) -> set[str]:
    with plain_errors("reading the table"):
        described = connection.execute(f"describe {table}").fetchall()
    return {str(row[0]) for row in described}


def _names(export: str) -> set[str]:
    return {item.name for item in all_schemas()[export].stored}


def _values(steps: Iterable[Step]) -> dict[str, Any]:
    return {name: value for step in steps for name, value in step.values.items()}


def _checked(condition: str) -> str:
    if any(mark in condition for mark in FORBIDDEN):
        raise AnalysisError("a condition of this run's criteria is more than one condition")
    return condition
