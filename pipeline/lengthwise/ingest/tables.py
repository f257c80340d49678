"""Turns the files a user names into tables of one export each, ready to be opened."""

from dataclasses import dataclass, replace
from pathlib import Path

from lengthwise.ingest.dialect import Dialect
from lengthwise.ingest.folder import rule_for
from lengthwise.ingest.mapping import FileRule, Mapping
from lengthwise.ingest.workbook import SUFFIXES, sheets_of


@dataclass(frozen=True, slots=True)
class TableFile:
    """One table: where it lies, its rule, and for each of its rows the row it came from.

    `row_numbers` is empty where the rows are those of the user's own file.
    """

    path: Path
    rule: FileRule
    row_numbers: tuple[int, ...] = ()


def tables_of(path: Path, mapping: Mapping, work: Path) -> list[TableFile]:
    """Return the tables of one file: itself, or each filled sheet of a workbook."""
    if path.suffix.lower() not in SUFFIXES:
        return [TableFile(path, rule_for(path, mapping))]
    return [
        TableFile(
            sheet.path,
            replace(rule_for(sheet.path, mapping), dialect=Dialect()),
            sheet.row_numbers,
        )
        for sheet in sheets_of(path, mapping, work)
    ]
