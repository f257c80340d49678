"""Wires a stored number to its definition, its SQL and its rows."""

import csv
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

from lengthwise.errors import SettingsError
from lengthwise.explain.answer import Counts, lines_of
from lengthwise.explain.choose import criterion_of, population_of
from lengthwise.explain.ids import matching
from lengthwise.explain.population import Population
from lengthwise.folder import AuditFolder
from lengthwise.periods import parse_quarter
from lengthwise.report.clinician_key import code_of, key_path
from lengthwise.report.escape import csv as guarded
from lengthwise.report.run_data import Row, RunData, load_run
from lengthwise.report.wording import with_interval
from lengthwise.settings import Settings, load_settings
from lengthwise.store.database import Connection, connect
from lengthwise.store.results import loaded_inputs
from lengthwise.store.trace import counted, source_rows

LISTED_AT_MOST = 40
CHANGED = (
    "Files were loaded or taken back since this run: the counts by step and the rows are those "
    "of the data as they stand now."
)


def explain(folder: AuditFolder, wanted: str, run: str, rows_to: Path | None) -> list[str]:
    """Return what lies behind a number; for a pattern that fits several, their list."""
    run_data = load_run(folder.database, run)
    key = key_path(folder.reports(str(run_data.run["period"])))
    found = matching(run_data.estimates, wanted, lambda slug: code_of(key, slug))
    if len(found) > 1:
        return _listed(found)
    row = found.iloc[0]
    settings, quarter = (
        with_versions(settings_of(run_data), folder),
        str(run_data.run["period"]),
    )
    with tables_of(folder, run_data, settings) as connection:
        population = population_of(row.to_dict(), settings, quarter)
        counts = counts_of(connection, population)
        is_same = _hashes(loaded_inputs(connection)) == _hashes(
            run_data.run.get("inputs") or []
        )
    criterion = criterion_of(row.to_dict(), settings, quarter)
    note = "" if is_same else CHANGED
    lines = lines_of(run_data, row, population, counts, criterion, note)
    if rows_to is not None:
        _write_rows(counts, rows_to)
        lines += ["", f"All row numbers: {rows_to}"]
    return lines


def settings_of(run_data: RunData) -> Settings:
    """Return the settings that a run was made with, as it stored them."""
    return _rebuilt(Settings, run_data.settings)


def with_versions(settings: Settings, folder: AuditFolder) -> Settings:
    """Return the settings with the versions of criteria that a run does not store.

    A run keeps the version of its own quarter; the quarters before were judged by those of
    their time, which stand in the folder's criteria.toml.
    """
    held = {(str(item["id"]), str(item["valid_from"])) for item in settings.criteria}
    others = [
        item
        for item in load_settings(folder.root).criteria
        if (str(item.get("id")), str(item.get("valid_from"))) not in held
    ]
    return replace(settings, criteria=(*settings.criteria, *others))


def _rebuilt(kind: Any, stored: dict[str, Any]) -> Any:
    default, values = kind(), {}
    for item in fields(kind):
        if item.name not in stored:
            continue
        value, usual = stored[item.name], getattr(default, item.name)
        if is_dataclass(usual):
            value = _rebuilt(type(usual), value)
        values[item.name] = tuple(value) if isinstance(usual, tuple) else value
    return kind(**values)


@contextmanager
def tables_of(
    folder: AuditFolder, run_data: RunData, settings: Settings
) -> Iterator[Connection]:
    """Open the database with the tables derived as for the run."""
    from lengthwise.derive.build import build
    from lengthwise.store.tables import ensure_tables

    connection = connect(folder.database)
    try:
        ensure_tables(connection)
        build(connection, settings, parse_quarter(str(run_data.run["period"])))
        yield connection
    finally:
        connection.close()


def counts_of(
    connection: Connection, population: Population, *, with_rows: bool = True
) -> Counts:
    """Count the cases step by step, and find their rows."""
    table, steps, last = population.table, population.steps, population.numerator
    every = steps if last is None else (*steps, last)
    all_cases, *after = counted(connection, table, population.count, every)
    numerator = None if last is None else after.pop()
    sources = (
        source_rows(connection, table, steps, population.exports, population.methods)
        if with_rows else []
    )  # fmt: skip
    return Counts(all_cases, tuple(after), numerator, tuple(sources))


def _hashes(inputs: list[dict[str, Any]]) -> set[str]:
    return {str(item["sha256"]) for item in inputs}


def _listed(found: pd.DataFrame) -> list[str]:
    lines = [f"{len(found)} results fit; name one of them:"]
    lines += [_short(row) for _, row in found.head(LISTED_AT_MOST).iterrows()]
    left = len(found) - LISTED_AT_MOST
    return [*lines, f"  and {left} more"] if left > 0 else lines


def _short(row: Row) -> str:
    return f"  {row['result_id']}  {with_interval(row, decimals=3)} {row['unit']}"


def _write_rows(counts: Counts, path: Path) -> None:
    try:
        with path.open("w", encoding="utf-8", newline="") as handle:
            writer = csv.writer(handle, lineterminator="\n")
            writer.writerow(["export", "file", "load", "row_number"])
            for source in counts.sources:
                name = guarded(source.file_name)
                writer.writerows(
                    [source.export, name, source.load_id, number]
                    for number in source.row_numbers
                )
    except OSError:
        raise SettingsError(f"{path.name}: the file cannot be written") from None
