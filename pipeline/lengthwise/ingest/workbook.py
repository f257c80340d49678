"""Reads the sheets of .xlsx and .ods workbooks as tables of text: values, never formulas.

A cell whose formula failed, or was never calculated, becomes a text that no field allows, so
that it is found like any other faulty value.
"""

import csv
import datetime
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.parsers.expat import ExpatError

from lengthwise.dictionary import EXPORTS
from lengthwise.errors import UnreadableError
from lengthwise.ingest.mapping import Mapping

SUFFIXES = frozenset({".xlsx", ".ods"})
INSTRUCTIONS = "how to fill in"
_NOT_CALCULATED = "#NOT CALCULATED"
_MOST_REPEATED = 10_000  # spreadsheets fill their last rows and columns with repeats of nothing

# What the two libraries and those below them raise on a file that is no sound workbook; some of
# it only when a sheet is read.
_DAMAGED = (
    zipfile.BadZipFile, zlib.error, ExpatError, KeyError, IndexError, ValueError, TypeError,
    AttributeError, SyntaxError, OSError, EOFError, RuntimeError, NotImplementedError,
    OverflowError, AssertionError,
)  # fmt: skip
Rows = Iterator[list[str]]


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet as a comma-separated UTF-8 file; `row_numbers` are those of the sheet."""

    path: Path
    row_numbers: tuple[int, ...]


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, datetime.datetime):
        midnight = value.time() == datetime.time()
        return value.date().isoformat() if midnight else value.isoformat(" ")
    return value.isoformat() if isinstance(value, datetime.date) else str(value).strip()


def _xlsx(path: Path) -> dict[str, Rows]:
    from openpyxl import load_workbook

    values = load_workbook(path, read_only=True, data_only=True)
    formulas = load_workbook(path, read_only=True, data_only=False)

    def rows(name: str) -> Rows:
        pairs = zip(values[name].iter_rows(), formulas[name].iter_rows(), strict=True)
        for cells, written in pairs:
            yield [
                _NOT_CALCULATED if cell.value is None and source.value is not None
                else _text(cell.value)
                for cell, source in zip(cells, written, strict=True)
            ]  # fmt: skip

    return {name: rows(name) for name in values.sheetnames}


def _repeats(element: Any, what: str) -> int:
    return min(int(element.getAttribute(f"number{what}repeated") or 1), _MOST_REPEATED)


def _ods_cell(cell: Any) -> str:
    from odf import teletype
    from odf.namespaces import OFFICENS, TABLENS

    kind = cell.getAttrNS(OFFICENS, "value-type")
    if kind in ("float", "percentage", "currency"):
        return _text(float(cell.getAttrNS(OFFICENS, "value")))
    if kind == "date":
        return str(cell.getAttrNS(OFFICENS, "date-value")).removesuffix("T00:00:00")
    if kind == "boolean":
        return _text(cell.getAttrNS(OFFICENS, "boolean-value") == "true")
    shown = "\n".join(
        teletype.extractText(part)
        for part in cell.childNodes
        if part.qname[1] == "p"  # an annotation is no value
    ).strip()
    return shown or (_NOT_CALCULATED if cell.getAttrNS(TABLENS, "formula") else "")


def _ods(path: Path) -> dict[str, Rows]:
    from odf.opendocument import load
    from odf.table import CoveredTableCell, Table, TableCell, TableRow

    def rows(table: Any) -> Rows:
        kinds = (TableCell().qname, CoveredTableCell().qname)
        for row in table.getElementsByType(TableRow):
            found: list[str] = []
            for cell in (node for node in row.childNodes if node.qname in kinds):
                found += [_ods_cell(cell)] * _repeats(cell, "columns")
            while found and not found[-1]:
                found.pop()
            for _ in range(_repeats(row, "rows")):
                yield found

    tables = load(str(path)).spreadsheet.getElementsByType(Table)
    return {table.getAttribute("name"): rows(table) for table in tables}


@contextmanager
def _plain_errors(path: Path) -> Iterator[None]:
    """Turn what the libraries raise on a damaged workbook into our error, without their text."""
    try:
        yield
    except FileNotFoundError:
        raise UnreadableError(
            f"{path.name}: the file is not there; check its name and rights"
        ) from None
    except _DAMAGED:
        raise UnreadableError(
            f"{path.name}: this is not a workbook that can be read (is it protected by a "
            "password?); save it again as .xlsx or .ods, or export its sheets as CSV"
        ) from None


def _write(path: Path, rows: Iterable[list[str]]) -> tuple[int, ...]:
    """Write the rows that hold anything; return their numbers, 1 = first after the first row."""
    kept = [(place, cells) for place, cells in enumerate(rows) if place == 0 or any(cells)]
    width = max((_width(cells) for _, cells in kept), default=0)
    with path.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.writer(handle, lineterminator="\n")
        for _, cells in kept:
            writer.writerow((cells + [""] * width)[:width])
    return tuple(place for place, _ in kept if place)


def _width(cells: list[str]) -> int:
    return max((place for place, cell in enumerate(cells, start=1) if cell), default=0)


def sheets_of(path: Path, mapping: Mapping, work: Path) -> list[Sheet]:
    """Return the filled sheets of a workbook, each as a file named `sheet (workbook)`.

    The sheet with instructions and sheets without a row are passed over, unless the mapping
    names them.

    Raises
    ------
    UnreadableError
        The file is not a workbook, or none of its sheets holds a row.
    """
    found = []
    read = _xlsx if path.suffix.lower() == ".xlsx" else _ods
    with _plain_errors(path):
        for name, rows in read(path).items():
            target = work / f"{name.replace('/', '-')} ({path.name})"
            numbers = _write(target, rows)
            known = name.lower().startswith(EXPORTS) or target.name in mapping.files
            if numbers and (known or name.lower() not in (INSTRUCTIONS, "lists")):
                found.append(Sheet(target, numbers))
    if not found:
        raise UnreadableError(f"{path.name}: no sheet of this workbook holds a row")
    return found
