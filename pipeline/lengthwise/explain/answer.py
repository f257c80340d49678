"""The answer in lines: meaning, value, counts by step, SQL, files and row numbers, settings."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from lengthwise.explain.definitions import Definition, definition_of
from lengthwise.explain.population import Population
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.wording import (
    criterion_name,
    frequency,
    in_hundred,
    name_of,
    period_words,
    with_interval,
)
from lengthwise.resources import resource
from lengthwise.store.queries import SqlFile, read_sql
from lengthwise.store.trace import Source, counting_sql

RANGES_SHOWN = 12
LAYERS = ("staging", "intermediate", "marts")


@dataclass(frozen=True, slots=True)
class Counts:
    """Cases left after each step, those of the numerator, and the rows they come from."""

    all_cases: int
    after: tuple[int, ...]
    numerator: int | None
    sources: tuple[Source, ...]

    @property
    def cases(self) -> int:
        """Return the cases that pass every step."""
        return self.after[-1] if self.after else self.all_cases


def lines_of(
    run_data: RunData, row: Row, population: Population, counts: Counts,
    criterion: Mapping[str, Any] | None, note: str,
) -> list[str]:  # fmt: skip
    """Return the whole answer about one number, with the criterion it was judged by."""
    definition = definition_of(str(row["analysis"]), str(row["measure"]))
    parts = (
        _value(run_data, row, definition),
        _criterion(criterion),
        _steps(row, population, counts),
        [note] if note else [],
        _sql(population),
        _rows(population, counts),
        _settings(run_data, definition),
        _run(run_data),
    )
    return [line for part in parts if part for line in (*part, "")][:-1]


def _value(run_data: RunData, row: Row, definition: Definition) -> list[str]:
    about = [criterion_name(run_data, str(row["subject"])).rstrip(".")]
    if row["reference"]:
        about.append(f"against {name_of(str(row['reference']))}")
    if row["stratum_kind"]:
        about.append(f"{row['stratum_kind']} {row['stratum']}".replace("_", " "))
    if row["scope"] != "practice":
        about.append(str(row["scope"]).replace(":", " "))
    lines = [
        str(row["result_id"]),
        f"What:       {definition.title}",
        f"Meaning:    {definition.text}",
        f"About:      {', '.join(about)}; {period_words(str(row['period']))}",
        f"Value:      {_number(row)}",
        f"Method:     {row['method'] or 'count'}; level {row['level']}",
        f"Cases:      {_n(row)}",
    ]
    return [*lines, f"Note:       {row['reason']}"] if row["valid"] and row["reason"] else lines


def _number(row: Row) -> str:
    if row["unit"] == "proportion" and not pd.isna(row["numerator"]) and row["denominator"]:
        target = row["target"]
        told = "" if pd.isna(target) else f"; target {in_hundred(target)} in 100"
        return f"{frequency(row)}{told}"
    return f"{with_interval(row, decimals=3)} {row['unit']}"


def _n(row: Row) -> str:
    clusters = "" if pd.isna(row["n_clusters"]) else f", {int(row['n_clusters'])} patients"
    return f"{int(row['n_used'])} used, {int(row['n_missing'])} without a value{clusters}"


def _criterion(item: Mapping[str, Any] | None) -> list[str]:
    if item is None:
        return []
    return [
        f"Criterion:  {item['statement']} (version {item['version']}, valid from "
        f"{item['valid_from']}; source: {item['source']})",
        f"  numerator:   {item.get('numerator_words', '')}: {item['numerator']}",
        f"  denominator: {item.get('denominator_words', '')}: {item['denominator']}",
        f"  left out:    {item.get('exception', 'false')}",
    ]


def _steps(row: Row, population: Population, counts: Counts) -> list[str]:
    lines = ["Counts by step:", f"  {counts.all_cases:>8,}  {population.unit} on record"]
    lines += [
        f"  {count:>8,}  {step.words}"
        for step, count in zip(population.steps, counts.after, strict=True)
    ]
    if population.numerator is not None:
        lines.append(f"  {counts.numerator or 0:>8,}  of these {population.numerator.words}")
    if population.note:
        lines.append(f"  {population.note}")
    return [*lines, *_compared(row, population, counts)]


def _compared(row: Row, population: Population, counts: Counts) -> list[str]:
    if population.numerator is None or pd.isna(row["denominator"]):
        return _used(row, counts)
    stored = (int(row["numerator"]), int(row["denominator"]))
    if stored == (counts.numerator, counts.cases):
        return ["  Counted again, they give the stored number."]
    return [
        f"  The stored number is {stored[0]} of {stored[1]}: rows were loaded, corrected or "
        "taken back since, or the analysis counts in another way."
    ]


def _used(row: Row, counts: Counts) -> list[str]:
    if int(row["n_used"]) in (0, counts.cases):
        return []
    return [
        f"  The analysis used {int(row['n_used']):,}: it leaves out cases without a value that "
        "it needs or of another group, or counts months, canals or patients instead."
    ]


def _sql(population: Population) -> list[str]:
    count = population.count
    lines = ["SQL of the counts:", *_indented(counting_sql(population.table, count, ()))]
    if population.steps:
        lines[1:] = _indented(counting_sql(population.table, count, population.steps))
    given = {name: value for step in population.steps for name, value in step.values.items()}
    if given:
        lines.append(
            "  with " + ", ".join(f"{name} = {value}" for name, value in given.items())
        )
    layer, _, name = population.table.partition(".")
    if layer not in LAYERS:
        return lines
    files = _files(layer, name)
    lines.append(f"SQL of the table (sql/{layer}/{name}.sql):")
    lines += _indented(files[0].text)
    others = ", ".join(f"sql/{item}" for item in _names(layer, name)[1:])
    return [*lines, f"It is built from: {others}"]


def _indented(text: str) -> list[str]:
    return [f"  {line}" for line in text.rstrip().splitlines()]


def _names(layer: str, name: str) -> list[str]:
    """Return the file and all that it is built from, the nearest first."""
    found, waiting = [], [(layer, name)]
    while waiting:
        here = waiting.pop(0)
        path = f"{here[0]}/{here[1]}.sql"
        if here[0] not in LAYERS or path in found:
            continue
        found.append(path)
        inputs = read_sql(resource("sql", *path.split("/"))).header.get("inputs", "")
        waiting += [
            (parts[0], parts[2])
            for parts in (item.strip().partition(".") for item in inputs.split(","))
        ]
    return found


def _files(layer: str, name: str) -> list[SqlFile]:
    return [read_sql(resource("sql", *path.split("/"))) for path in _names(layer, name)]


def _rows(population: Population, counts: Counts) -> list[str]:
    lines = ["Rows behind it (row 1 is the first row after the header):"]
    for source in counts.sources:
        lines.append(
            f"  {source.file_name} (load {source.load_id}), {len(source.row_numbers):,} rows: "
            f"{ranges(source.row_numbers)}"
        )
    return lines if counts.sources else [*lines, "  none"]


def ranges(numbers: tuple[int, ...], at_most: int = RANGES_SHOWN) -> str:
    """Return row numbers as "1-3, 7, 9-12", the first of them where there are many."""
    spans = list(_spans(sorted(set(numbers))))
    shown = ", ".join(f"{a}-{b}" if a != b else str(a) for a, b in spans[:at_most])
    left = sum(b - a + 1 for a, b in spans[at_most:])
    return f"{shown} and {left:,} more (--rows FILE writes all)" if left else shown


def _spans(numbers: list[int]) -> Iterator[tuple[int, int]]:
    start = previous = None
    for number in numbers:
        if previous is not None and number != previous + 1:
            yield start or number, previous
            start = number
        start = number if start is None else start
        previous = number
    if previous is not None and start is not None:
        yield start, previous


def _settings(run_data: RunData, definition: Definition) -> list[str]:
    shown = {
        path: run_data.setting(*path.split("."), default="not recorded")
        for path in definition.settings
    }
    return ["Settings:   " + _listed(shown)] if shown else []


def _listed(values: Mapping[str, Any]) -> str:
    return ", ".join(f"{name} = {value}" for name, value in values.items())


def _run(run_data: RunData) -> list[str]:
    run = run_data.run
    files = ", ".join(
        f"{item.get('name', item.get('file', ''))} ({str(item['sha256'])[:12]})"
        for item in run.get("inputs") or []
    )
    return [
        f"Run:        {run['run_id']}, lengthwise {run['version']}, {run['created_at']}",
        f"Input files and hashes: {files}",
    ]
