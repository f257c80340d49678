"""The de-identification gate: after the rows are judged and before anything is stored.

A column that the dictionary constrains (numbers, dates, lists) cannot hold an identifier in an
accepted row, so only keys and columns that are not read are looked through whole; of the rows
that were set aside, every cell is.
"""

from dataclasses import replace
from pathlib import Path
from typing import Any

from lengthwise.check.fields import quoted
from lengthwise.check.judge import JudgedFile, readable
from lengthwise.check.reading import reader
from lengthwise.dictionary import Schema
from lengthwise.ingest.identifier_patterns import FREE_TEXT_PATTERN, TELLING
from lengthwise.ingest.identifier_words import EMAIL, FREE_TEXT, FULL_DATE, URL
from lengthwise.ingest.identifiers import OWN_COLUMNS, Column, Hit, refuse, scan

_SHOWN_ROWS = 5
_PLAIN = r"[A-Za-z]?[0-9]{0,7}|[A-Za-z_]*[0-9]?|[+-]?[0-9]{1,5}[.,][0-9]*|[0-9]{4}-[0-9Q]{1,2}"
_DAYS = ("treatment_date", "review_date", "period")
_LONGEST_CELL = 200  # beyond it a cell is a swallowed line, whose date fields are declared ones


def require_no_identifiers(
    connection: Any, judged: list[JudgedFile], schemas: dict[str, Schema], work: Path
) -> None:
    """Raise IdentifierError when the judged files seem to hold direct identifiers.

    Works on the temporary tables that judging leaves; stores nothing.
    """
    hits: list[Hit] = []
    for item in judged:
        for column in _columns(item, schemas[item.source.export], work):
            hit = scan(connection, column)
            hits += [_own_rows(hit, item)] if hit else []
        hits += [
            _own_rows(hit, item)
            for hit in _set_aside(connection, item, schemas[item.source.export])
        ]
    refuse(hits)


def _own_rows(hit: Hit, item: JudgedFile) -> Hit:
    numbers = item.source.row_numbers
    if not numbers:
        return hit
    return replace(hit, first_rows=tuple(numbers[row - 1] for row in hit.first_rows))


def _columns(item: JudgedFile, export: Schema, work: Path) -> list[Column]:
    source = item.source
    table = f"checked_{export.name}_{item.file_number}"
    keys = {field.name for field in export.fields if field.name.endswith("_id")}
    columns = []
    for place, (header, name) in enumerate(zip(source.header, source.columns, strict=True)):
        where = f"{source.name} column {place + 1}"
        if name in keys:
            relation = f"select rowid + 1 as row_number, {name} as value from {table}"
            # The name of a site is no person's name; it may be that of a place.
            is_site = name == "site_id"
            is_patient = name == "patient_id" and name not in source.rule.random_numbers
            columns.append(
                Column(
                    f"{where} ({name})", relation, {}, is_key=not is_site, is_patient=is_patient,
                    is_site=is_site,
                )
            )  # fmt: skip
        elif name in _DAYS:
            relation = (
                f"select rowid + 1 as row_number, cast({name} as varchar) as value from {table}"
            )
            columns.append(Column(f"{where} ({name})", relation, {}, is_date=True))
        elif not name and header not in OWN_COLUMNS:
            relation = (
                f"select row_number() over () as row_number, _column_{place + 1} as value "
                f"from {reader(source)}"
            )
            columns.append(
                Column(
                    f"{where} (not read)", relation, {"path": str(readable(source, work))},
                    may_be_free_text=header in source.rule.reasons,
                )
            )  # fmt: skip
    return columns


def _set_aside(connection: Any, item: JudgedFile, export: Schema) -> list[Hit]:
    """Return what the cells of the rows that were set aside give away."""
    dates = [name for name in item.source.columns if name and export.field(name).type == "date"]
    connection.execute(
        "create or replace temp table set_aside_cells as select rows.row_number, cell.key as "
        "header, trim(cell.value ->> '$') as value from load_quarantine as rows, "
        "json_each(rows.row_values) as cell where rows.file_number = $number "
        f"and not list_contains([{', '.join(map(quoted, sorted(OWN_COLUMNS)))}], cell.key)",
        {"number": item.file_number},
    )
    # Compiling the shapes takes longer than all the rest, and most cells are plain.
    odd = f"select 1 from set_aside_cells where not regexp_full_match(value, {quoted(_PLAIN)}) limit 1"
    if not connection.execute(odd).fetchall():
        return []
    shapes = {**TELLING, FREE_TEXT: FREE_TEXT_PATTERN}
    any_of_them = "|".join(f"(?:{pattern})" for pattern in shapes.values())
    if not connection.execute(
        f"select count(*) from set_aside_cells where regexp_matches(value, {quoted(any_of_them)})"
    ).fetchall()[0][0]:
        return []  # one pass instead of one for each shape, where there is nothing to tell
    hits = []
    for kind, pattern in shapes.items():
        limit = "true" if kind in (EMAIL, URL) else f"length(value) <= {_LONGEST_CELL}"
        whole = "regexp_full_match" if kind == FULL_DATE else "regexp_matches"
        skipped = dates if kind == FULL_DATE else []
        found = connection.execute(
            f"select distinct row_number from set_aside_cells where {limit} "
            f"and not contains(value, chr(10)) and {whole}(value, {quoted(pattern)}) "
            "and not list_contains($skipped, header) order by row_number",
            {"skipped": skipped},
        ).fetchall()
        rows = tuple(row[0] for row in found)
        if rows:
            place = f"{item.source.name} rows that were set aside"
            hits.append(Hit(place, kind, len(rows), rows[:_SHOWN_ROWS]))
    return hits
