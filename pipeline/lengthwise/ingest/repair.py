"""The careful reader: takes a file that the fast one refuses, and loses nothing of it.

Every record gets a number and a shape. A record of the wrong shape is kept whole for the
quarantine and leaves an empty row in its place, so that row numbers stay true.
"""

import csv
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import zip_longest
from pathlib import Path

from lengthwise.ingest.shapes import BadShape, width_fault
from lengthwise.ingest.source import SourceFile

LONGEST_FIELD = 1_000
_CONTROL = {code: None for code in range(32) if code not in (9, 10, 13)} | {127: None}


@dataclass(slots=True)
class Repaired:
    """A file that the fast reader can take, and the records that it will not find there."""

    path: Path
    bad_shapes: list[BadShape] = field(default_factory=list)


def _fault(cells: list[str], columns: tuple[str, ...]) -> str:
    # No field of the dictionary holds a line break: one inside a field means an open quote.
    broken = any(
        "\n" in cell for cell, name in zip_longest(cells, columns, fillvalue="-") if name
    )
    if broken:
        return "unclosed_quote"
    if fault := width_fault(len(cells), len(columns)):
        return fault
    if max(map(len, cells)) > LONGEST_FIELD:
        return "field_too_long"
    if any(len(cell.translate(_CONTROL)) != len(cell) for cell in cells):
        return "control_character"
    return ""


def _records(source: SourceFile) -> Iterator[list[str]]:
    """Yield the cells of every record after the header; blank lines are not rows."""
    with source.text_path.open(encoding="utf-8", newline="") as handle:
        reader = csv.reader(handle, delimiter=source.rule.dialect.separator)
        next(reader)
        yield from filter(None, reader)


def repair(source: SourceFile, work: Path) -> Repaired:
    """Return a well-formed copy of a file in the same dialect, and its misshapen records."""
    result = Repaired(work / f"{source.sha256[:16]}.repaired.csv")
    blank = [""] * len(source.columns)
    with result.path.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.writer(
            handle, delimiter=source.rule.dialect.separator, quoting=csv.QUOTE_ALL,
            lineterminator="\n",
        )  # fmt: skip
        writer.writerow(source.header)
        for number, cells in enumerate(_records(source), start=1):
            fault = _fault(cells, source.columns)
            if fault:
                result.bad_shapes.append(BadShape(number, fault, cells))
            writer.writerow(blank if fault else cells)
    return result
