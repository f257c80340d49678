"""Turns the files a user names into tables of one export each, ready to be opened."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from lengthwise.ingest.dialect import Dialect
from lengthwise.ingest.folder import rule_for
from lengthwise.ingest.identifiers import header_hits, refuse
from lengthwise.ingest.mapping import FileRule, Mapping
from lengthwise.ingest.reshape import read_header, reshape_file
from lengthwise.ingest.shapes import BadShape
from lengthwise.ingest.source import read_text
from lengthwise.ingest.workbook import SUFFIXES, sheets_of


@dataclass(frozen=True, slots=True)
class TableFile:
    """One table: where it lies, its rule, and for each of its rows the row it came from.

    `row_numbers` is empty where the rows are those of the user's own file.
    """

    path: Path
    rule: FileRule
    row_numbers: tuple[int, ...] = ()
    misshapen: tuple[BadShape, ...] = ()


def _reshaped(path: Path, rule: FileRule, rows: Sequence[int], work: Path) -> list[TableFile]:
    if rule.reshape is None:
        return [TableFile(path, rule, tuple(rows))]
    _, _, text, _ = read_text(path, rule.dialect.encoding, work)
    header = read_header(text, path.name, rule, rule.reshape)
    refuse(
        header_hits(
            text, path.name, header, rule.dialect.separator, frozenset(),
            frozenset(rule.reasons), skip_lines=rule.reshape.skip_lines,
        )
    )  # fmt: skip
    return [
        TableFile(
            table.path,
            table.rule,
            _own_rows(table.row_numbers, rows, rule.reshape.skip_lines),
            table.misshapen,
        )
        for table in reshape_file(text, path.name, rule, rule.reshape, work)
    ]


def _own_rows(made: tuple[int, ...], rows: Sequence[int], skipped: int) -> tuple[int, ...]:
    """Return the rows of the sheet, counted from its header, that tidy rows came from."""
    if not rows:
        return made
    return tuple(rows[number - 1 + skipped] - skipped for number in made)


def tables_of(path: Path, mapping: Mapping, work: Path) -> list[TableFile]:
    """Return the tables of one file: itself, its reshaped tables, or those of its sheets."""
    if path.suffix.lower() not in SUFFIXES:
        return _reshaped(path, rule_for(path, mapping), (), work)
    found = []
    for sheet in sheets_of(path, mapping, work):
        rule = rule_for(sheet.path, mapping)
        # A sheet is written out in our own form; only text dates keep the user's order.
        rule = replace(rule, dialect=Dialect(date_order=rule.dialect.date_order))
        found += _reshaped(sheet.path, rule, sheet.row_numbers, work)
    return found
