"""Decides which file feeds which export."""

from pathlib import Path

from lengthwise.dictionary import EXPORTS
from lengthwise.errors import UnreadableError
from lengthwise.ingest.mapping import FileRule, Mapping
from lengthwise.ingest.mended import own_form

_TABLES = {".csv", ".txt", ".tsv", ".xlsx", ".ods"}


def rule_for(path: Path, mapping: Mapping) -> FileRule:
    """Return the rule of one file: by mapping.toml, else by the name of the export it carries.

    A file name carries an export when it is `readings.csv` or starts with `readings` followed
    by `-`, `_` or `.`. A file of rows to mend says itself how it is written.
    """
    if path.name in mapping.files:
        return mapping.files[path.name]
    stem = path.name.lower()
    for export in sorted(EXPORTS, key=len, reverse=True):
        if stem.startswith(export) and not stem[len(export) : len(export) + 1].isalnum():
            form = own_form(path) or mapping.default
            return FileRule(path.name, export, form, random_numbers=mapping.random_numbers)
    raise UnreadableError(
        f"{path.name}: cannot tell which export this file holds; start its name with one of "
        f"{', '.join(EXPORTS)}, or give it a [[file]] entry in mapping.toml (lengthwise map drafts one)"
    )


def find_files(folder: Path) -> list[Path]:
    """Return the table files of an exports folder, in name order.

    Raises
    ------
    UnreadableError
        The folder is absent or holds no table file.
    """
    if not folder.is_dir():
        raise UnreadableError(f"{folder.name}: there is no such folder; see lengthwise new")
    found = sorted(
        path
        for path in folder.iterdir()
        # A spreadsheet program leaves a hidden lock file beside an open workbook.
        if path.suffix.lower() in _TABLES and not path.name.startswith((".", "~"))
    )
    if not found:
        raise UnreadableError(
            f"{folder.name}: the folder holds no .csv, .xlsx or .ods file to read"
        )
    return found
