"""Rewrites a practice's own sheet into one tidy table per export, by its declared mapping.

Nothing is judged here: a value that cannot be translated is passed on so that it is found, and
a record of the wrong shape is passed on beside the table, with what is wrong with it.
"""

import csv
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from lengthwise.dictionary import schema
from lengthwise.errors import UnreadableError
from lengthwise.ingest.dialect import Dialect
from lengthwise.ingest.mapping import FileRule
from lengthwise.ingest.reshape_rules import ENDS_COLUMNS, UNITS, Reshape, TableRule
from lengthwise.ingest.shapes import BadShape, width_fault

_QUADRANTS = {"UR": "1", "UL": "2", "LL": "3", "LR": "4"}
# A tooth that the declared notation does not know must not pass for one of ISO 3950.
_UNKNOWN = "?"
# The marks of missing values are no numbers and no teeth, and stay as they are.
_MISSING = ("", "not_recorded", "not_applicable", "unreadable")


@dataclass(frozen=True, slots=True)
class TidyTable:
    """One export made from a file, and the row of the file that each of its rows came from.

    `misshapen` holds the records of the file that are no rows; each leaves an empty row in its
    place, by whose number in this table it goes.
    """

    path: Path
    rule: FileRule
    row_numbers: tuple[int, ...]
    misshapen: tuple[BadShape, ...] = ()


def iso_tooth(text: str, notation: str) -> str:
    """Return a tooth of a declared notation in ISO 3950, or text that no field allows.

    Universal numbering runs from 1, upper right third molar, to 32, lower right third molar;
    quadrant and position is written UR6 or 1-6.
    """
    value = text.strip()
    if notation in ("", "iso3950") or value in _MISSING:
        return value
    if notation == "universal":
        if not re.fullmatch(r"[0-9]{1,2}", value) or not 1 <= int(value) <= 32:
            return _UNKNOWN + value
        quadrant, place = divmod(int(value) - 1, 8)
        # Quadrants 1 and 3 are counted towards the midline, 2 and 4 away from it.
        return f"{quadrant + 1}{8 - place if quadrant % 2 == 0 else place + 1}"
    letters = re.fullmatch(r"(UR|UL|LL|LR)[ -]?([1-8])", value.upper())
    if letters:
        return _QUADRANTS[letters[1]] + letters[2]
    numbers = re.fullmatch(r"([1-4])[-./ ]([1-8])", value)
    return numbers[1] + numbers[2] if numbers else _UNKNOWN + value


def _number(text: str, decimal: str, change: Callable[[Decimal], Decimal]) -> str:
    """Return a changed number in the same decimal mark, or text that no number field allows.

    A number in a form that is not known here must not go on unchanged, with the wrong sign.
    """
    if text in _MISSING:
        return text
    mark = re.escape(decimal)
    digits = rf"(?:[0-9]{{1,12}}(?:{mark}[0-9]{{0,30}})?|{mark}[0-9]{{1,30}})"
    if not re.fullmatch(rf"[+-]?{digits}(?:[eE][+-]?[0-9]{{1,2}})?", text):
        return _UNKNOWN + text
    changed = change(Decimal(text.replace(decimal, "."))).normalize() + 0  # no minus zero
    return f"{changed:f}".replace(".", decimal)


def _ends_mm(record: dict[str, str], rule: Reshape, decimal: str) -> Decimal | None:
    """Return where this row's confirmed length ends; None where a length of it is not given."""
    if not rule.confirmed_length_ends:
        return rule.confirmed_length_ends_mm
    lengths = []
    for name in ENDS_COLUMNS:
        text = record[rule.confirmed_length_ends[name]].strip().replace(decimal, ".")
        if not re.fullmatch(r"[0-9]{1,4}(?:\.[0-9]{1,30})?", text):
            return None
        lengths.append(Decimal(text))
    confirmed, radiographic = lengths
    return (confirmed - radiographic) * UNITS[rule.unit]


def _value(
    field: str, text: str, table: TableRule, rule: Reshape, decimal: str, record: dict[str, str]
) -> str:
    value = text.strip()
    value = table.recode.get(field, {}).get(value, value)
    if field == "tooth":
        return iso_tooth(value, rule.tooth_notation)
    if field == "fill_offset_mm":
        sign = -1 if rule.fill_sign == "positive_short" else 1
        factor = sign * UNITS[rule.unit]
        ends = Decimal(0)
        if rule.fill_reference == "confirmed_length":
            known = _ends_mm(record, rule, decimal)
            if known is None:
                return "" if value in _MISSING else "not_recorded"  # a level without its zero
            ends = known
        if factor == 1 and not ends:
            return value
        return _number(value, decimal, lambda number: number * factor + ends)
    if field.endswith("_mm") and rule.unit != "mm":
        return _number(value, decimal, lambda number: number * UNITS[rule.unit])
    return value


def _rows_of(
    record: dict[str, str], table: TableRule, rule: Reshape, decimal: str
) -> Iterator[dict[str, str]]:
    def read(columns: dict[str, str]) -> dict[str, str]:
        return {
            field: _value(field, record[header], table, rule, decimal, record)
            for header, field in columns.items()
        }

    shared = {**table.constants, **read(table.columns)}
    if not table.rows_from:
        yield shared
    for part in table.rows_from:
        own = read(part.columns)
        if any(own.values()):
            yield {**shared, **part.constants, **own}


def _records(path: Path, rule: FileRule, reshape: Reshape) -> Iterator[list[str]]:
    with path.open(encoding="utf-8", newline="") as handle:
        for _ in range(reshape.skip_lines):
            handle.readline()
        yield from filter(None, csv.reader(handle, delimiter=rule.dialect.separator))


def read_header(path: Path, name: str, rule: FileRule, reshape: Reshape) -> tuple[str, ...]:
    """Return the header of a file, after the lines that are skipped."""
    for cells in _records(path, rule, reshape):
        return tuple(cell.strip() for cell in cells)
    raise UnreadableError(f"{name}: the file holds no header line below the skipped lines")


def _require_all_headers(
    name: str, header: tuple[str, ...], rule: FileRule, reshape: Reshape
) -> None:
    wanted = {*reshape.skip_where, *reshape.confirmed_length_ends.values()}.union(
        *(table.headers for table in reshape.tables)
    )
    missing = sorted(wanted - set(header))
    if missing:
        raise UnreadableError(
            f"{name}: the header lacks {', '.join(missing)}, which mapping.toml reads; is the "
            "separator right, are there lines above the header (skip_lines)?"
        )
    repeated = sorted(cell for cell in wanted if header.count(cell) > 1)
    if repeated:
        raise UnreadableError(f"{name}: the header names {', '.join(repeated)} more than once")
    left = [
        str(place + 1)
        for place, cell in enumerate(header)
        if cell and cell not in wanted and cell not in rule.ignore
    ]
    if left:
        raise UnreadableError(
            f"{name}: column number {', '.join(left)} is used by no table of mapping.toml; map it "
            "or list it under ignore"
        )


class _Writer:
    """Writes one tidy table; the first of a file also carries the columns that are not read."""

    def __init__(self, table: TableRule, rule: FileRule, extra: tuple[str, ...], path: Path):
        self.table, self.rule, self.extra, self.path = table, rule, extra, path
        self.handle = path.open("w", encoding="utf-8", newline="")
        self.writer = csv.writer(self.handle, lineterminator="\n")
        self.writer.writerow([*table.fields, *extra])
        self.numbers: list[int] = []
        self.misshapen: list[BadShape] = []
        self.seen: set[tuple[str, ...]] = set()

    def add(self, number: int, record: dict[str, str], reshape: Reshape) -> None:
        for row in _rows_of(record, self.table, reshape, self.rule.dialect.decimal):
            cells = tuple(row.get(field, "") for field in self.table.fields)
            if self.table.distinct and cells in self.seen:
                continue
            if self.table.distinct:
                self.seen.add(cells)
            self.writer.writerow([*cells, *(record[name] for name in self.extra)])
            self.numbers.append(number)

    def add_misshapen(self, number: int, fault: str, cells: list[str]) -> None:
        self.writer.writerow([""] * (len(self.table.fields) + len(self.extra)))
        self.numbers.append(number)
        self.misshapen.append(BadShape(len(self.numbers), fault, cells))

    def close(self) -> TidyTable:
        self.handle.close()
        form = self.rule.dialect
        rule = FileRule(
            self.path.name, self.table.export, Dialect(",", form.decimal, "utf-8", form.date_order),
            ignore=self.extra, reasons=self.rule.reasons, random_numbers=self.rule.random_numbers,
        )  # fmt: skip
        return TidyTable(self.path, rule, tuple(self.numbers), tuple(self.misshapen))


def reshape_file(
    path: Path, name: str, rule: FileRule, reshape: Reshape, work: Path
) -> list[TidyTable]:
    """Return the tidy tables of one file whose text is UTF-8.

    Raises
    ------
    UnreadableError
        The header does not hold what the mapping reads, or holds more than it accounts for.
    """
    header = read_header(path, name, rule, reshape)
    _require_all_headers(name, header, rule, reshape)
    extra = tuple(cell for cell in header if cell in rule.ignore)
    writers = [
        _Writer(
            table, rule, () if place else extra, work / f"{table.export} {place + 1} ({name})"
        )
        for place, table in enumerate(reshape.tables)
    ]
    # Of a shifted record nothing is kept where it could be a date, which is never stored.
    dated = any(
        schema(table.export).field(name).type == "date"
        for table in reshape.tables
        for name in table.fields
    )
    records = _records(path, rule, reshape)
    next(records)
    for number, cells in enumerate(records, start=1):
        record = dict(zip(header, cells, strict=False))
        if not any(cell.strip() for cell in cells):
            continue
        if any(
            record.get(head, "").strip() in values
            for head, values in reshape.skip_where.items()
        ):
            continue
        if fault := width_fault(len(cells), len(header)):
            writers[0].add_misshapen(number, fault, [] if dated else cells)
            continue
        for writer in writers:
            writer.add(number, record, reshape)
    return [writer.close() for writer in writers]
