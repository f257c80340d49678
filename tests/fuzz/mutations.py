"""Ways in which a table file goes wrong: in its cells, or in its bytes.

A mutation of cells changes header and rows before the file is written; one of bytes changes
what was written. All randomness comes from the generator that is handed in.
"""

import csv
import io
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from fuzz.base_files import MARK, BaseFile

Random = np.random.Generator
OfCells = Callable[[Random, BaseFile], BaseFile]
OfBytes = Callable[[Random, bytes, BaseFile], bytes]

_WRONG = (
    "abc" + MARK, "-", "?", "NaN", "inf", "-inf", "1e999", "0x1F", "1_000", "٣", "½", "yes" + MARK,
    "TRUE", "null", "NULL", "None", "#REF!", "#DIV/0!", "=1+1", "+1", "@x", "-0", "1,5", "1.5.2",
    "1 000", "12:30", "{}", "[1]", "$path", "%s", "\\", "';--", "a" * 300 + MARK, "é" + MARK,
    "2026-13-45", "31/02/2026", "not_recorded", "unreadable", "not_applicable",
)  # fmt: skip
_HUGE = (
    "9" * 400, "1e308", "-1e308", "99999999999999999999", "1e-320", "2147483648", "-2147483649",
    "9223372036854775808", "0." + "3" * 200, "1" + "0" * 39,
)  # fmt: skip
_CONTROL = "\x00\x01\x07\x08\x0b\x0c\x1b\x1f\x7f\x85"
_INVISIBLE = "\u202e\u200f\u200b\u2066\ufeff\u00a0\u2028\u0301\u061c\U0001f9b7"


def _place(random: Random, base: BaseFile) -> tuple[int, int]:
    row = int(random.integers(len(base.rows)))
    return row, int(random.integers(max(1, len(base.rows[row]))))


def _pick(random: Random, choices):
    return choices[int(random.integers(len(choices)))]


def _copy(base: BaseFile) -> list[list[str]]:
    return [list(row) for row in base.rows]


def _changed(random: Random, base: BaseFile, change: Callable[[str], str]) -> BaseFile:
    """Change one to five cells."""
    rows = _copy(base)
    for _ in range(int(random.integers(1, 6))):
        row, column = _place(random, base)
        if column < len(rows[row]):
            rows[row][column] = change(rows[row][column])
    return replace(base, rows=rows)


def _inserted(random: Random, text: str, part: str) -> str:
    at = int(random.integers(len(text) + 1))
    return text[:at] + part + text[at:]


def wrong_types(random: Random, base: BaseFile) -> BaseFile:
    return _changed(random, base, lambda _: _pick(random, _WRONG))


def huge_numbers(random: Random, base: BaseFile) -> BaseFile:
    return _changed(random, base, lambda _: _pick(random, _HUGE))


def huge_field(random: Random, base: BaseFile) -> BaseFile:
    row, column = _place(random, base)
    rows = _copy(base)
    rows[row][min(column, len(rows[row]) - 1)] = (
        _pick(random, ("9", "x", MARK, '"')) * 1_000_000
    )
    return replace(base, rows=rows)


def control_characters(random: Random, base: BaseFile) -> BaseFile:
    return _changed(random, base, lambda cell: _inserted(random, cell, _pick(random, _CONTROL)))


def invisible_marks(random: Random, base: BaseFile) -> BaseFile:
    return _changed(
        random, base, lambda cell: _inserted(random, cell, _pick(random, _INVISIBLE))
    )


def nested_quotes(random: Random, base: BaseFile) -> BaseFile:
    parts = ('"', '""', '"""', '"a""b"', "'", "“", '";"', '",\n"', "\n", "\r")
    return _changed(random, base, lambda cell: _inserted(random, cell, _pick(random, parts)))


def dates_in_other_orders(random: Random, base: BaseFile) -> BaseFile:
    forms = ("09/01/2026", "1.9.26", "2026/01/09", "9 Jan 2026", "20260109", "2026-1", "01-2026",
             "2026-Q5", "45000", "2026-01-09T10:00:00")  # fmt: skip
    named = [
        at
        for at, name in enumerate(base.header)
        if name.lower() in ("period", "date", "monat", "month")
    ]
    rows = _copy(base)
    for row in rows:
        for at in named or [len(base.header) - 1]:
            if at < len(row):
                row[at] = _pick(random, forms)
    return replace(base, rows=rows)


def decimal_commas(random: Random, base: BaseFile) -> BaseFile:
    here, other = (",", ".") if base.decimal == "," else (".", ",")
    return replace(
        base, rows=[[cell.replace(here, other) for cell in row] for row in base.rows]
    )


def ragged_rows(random: Random, base: BaseFile) -> BaseFile:
    rows = _copy(base)
    for _ in range(int(random.integers(1, 6))):
        row = rows[int(random.integers(len(rows)))]
        if random.random() < 0.5 and len(row) > 1:
            row.pop(int(random.integers(len(row))))
        else:
            row.extend([MARK] * int(random.integers(1, 4)))
    return replace(base, rows=rows)


def blank_and_total_rows(random: Random, base: BaseFile) -> BaseFile:
    rows, width = _copy(base), len(base.header)
    added = ([], [""] * width, [" "], ["Total", *[""] * (width - 1)], ["Sum", str(len(rows))])
    for _ in range(int(random.integers(1, 6))):
        rows.insert(int(random.integers(len(rows) + 1)), list(_pick(random, added)))
    return replace(base, rows=rows)


def duplicated_header(random: Random, base: BaseFile) -> BaseFile:
    header = list(base.header)
    one, other = random.integers(len(header), size=2)
    header[one] = header[other] if one != other else header[one] + " "
    return replace(base, header=header)


def changed_header(random: Random, base: BaseFile) -> BaseFile:
    header = list(base.header)
    at = int(random.integers(len(header)))
    header[at] = _pick(
        random,
        (header[at].upper(), f" {header[at]} ", "", "_" + header[at], header[at] + MARK,
         "\ufeff" + header[at], "Name", "remarks", "é", "select", header[at][:-1], "'", "row_number",
         "is_faulty", "_row", "p_" + header[at], "x\ny"),
    )  # fmt: skip
    return replace(base, header=header)


def no_header(random: Random, base: BaseFile) -> BaseFile:
    return replace(base, header=base.rows[0], rows=base.rows[1:])


def header_only(random: Random, base: BaseFile) -> BaseFile:
    return replace(base, rows=[])


def _columns(base: BaseFile, order: list[int]) -> BaseFile:
    return replace(
        base, header=[base.header[at] for at in order],
        rows=[[row[at] for at in order if at < len(row)] for row in base.rows],
    )  # fmt: skip


def dropped_column(random: Random, base: BaseFile) -> BaseFile:
    lost = int(random.integers(len(base.header)))
    return _columns(base, [at for at in range(len(base.header)) if at != lost])


def permuted_columns(random: Random, base: BaseFile) -> BaseFile:
    return _columns(base, [int(at) for at in random.permutation(len(base.header))])


def added_column(random: Random, base: BaseFile) -> BaseFile:
    name = _pick(random, ("_own", "_own", "shelf", "", base.header[0]))
    value = _pick(random, (MARK, "", "x y", "a b c d e", "Anna Miller", "0791 112233"))
    return replace(base, header=[*base.header, name], rows=[[*row, value] for row in base.rows])


def swapped_values(random: Random, base: BaseFile) -> BaseFile:
    rows = _copy(base)
    one, other = (int(at) for at in random.integers(len(base.header), size=2))
    for row in rows:
        if max(one, other) < len(row):
            row[one], row[other] = row[other], row[one]
    return replace(base, rows=rows)


def repeated_rows(random: Random, base: BaseFile) -> BaseFile:
    rows = _copy(base)
    for _ in range(int(random.integers(1, 8))):
        rows.insert(int(random.integers(len(rows) + 1)), list(_pick(random, rows)))
    return replace(base, rows=rows)


def spaces(random: Random, base: BaseFile) -> BaseFile:
    return _changed(random, base, lambda cell: f"  {cell}\t" if random.random() < 0.5 else "  ")


def truncated(random: Random, data: bytes, base: BaseFile) -> bytes:
    return data[: int(random.integers(len(data) + 1))]


def _at(random: Random, data: bytes, part: bytes, replaced: int = 0) -> bytes:
    at = int(random.integers(len(data) + 1))
    return data[:at] + part + data[at + replaced :]


def other_bytes(random: Random, data: bytes, base: BaseFile) -> bytes:
    for _ in range(int(random.integers(1, 10))):
        part = bytes(random.integers(256, size=int(random.integers(0, 3)), dtype=np.uint8))
        data = _at(random, data, part, int(random.integers(0, 3)))
    return data


def lost_or_repeated_part(random: Random, data: bytes, base: BaseFile) -> bytes:
    one, other = sorted(int(at) for at in random.integers(len(data) + 1, size=2))
    return data[:one] + data[other:] if random.random() < 0.5 else data[:other] + data[one:]


def quotes(random: Random, data: bytes, base: BaseFile) -> bytes:
    for _ in range(int(random.integers(1, 6))):
        data = _at(random, data, _pick(random, (b'"', b'""', b'"\n', b"'", b'\\"')))
    return data


def null_bytes(random: Random, data: bytes, base: BaseFile) -> bytes:
    count = int(_pick(random, (1, 3, 200)))
    return _at(random, data, b"\0" * count)


def invalid_encoding(random: Random, data: bytes, base: BaseFile) -> bytes:
    parts = (b"\xff", b"\xc3\x28", b"\xed\xa0\x80", b"\xf8\x88", b"\x80", b"\xfe\xff")
    return _at(random, data, _pick(random, parts))


def other_encoding(random: Random, data: bytes, base: BaseFile) -> bytes:
    text = data.decode(base.encoding, "replace")
    name = _pick(
        random, ("utf-16", "utf-16-le", "utf-32", "utf-8-sig", "cp1252", "utf-8", "cp037")
    )
    return text.encode(name, "replace")


def separators(random: Random, data: bytes, base: BaseFile) -> bytes:
    mark = base.separator.encode()
    other = _pick(random, (b",", b";", b"\t", b"|", b" ", b",,"))
    if random.random() < 0.5:
        return data.replace(mark, other)
    return data.replace(mark, other, int(random.integers(1, 30)))


def line_ends(random: Random, data: bytes, base: BaseFile) -> bytes:
    ends = (b"\r", b"\r\n", b"\n\r", b"\n\n", b"\r\r\n", "\u2028".encode(), b"\x85", b"")
    end = _pick(random, ends)
    count = -1 if random.random() < 0.6 else int(random.integers(1, 6))
    return data.replace(b"\n", end, count)


def empty(random: Random, data: bytes, base: BaseFile) -> bytes:
    return _pick(
        random, (b"", b"\n", b" ", b"\n\n\n", b"\xef\xbb\xbf", b",", b'"', b"\0", b"\xff\xfe")
    )


def other_quoting(random: Random, data: bytes, base: BaseFile) -> bytes:
    try:
        rows = list(
            csv.reader(io.StringIO(data.decode(base.encoding)), delimiter=base.separator)
        )
    except (UnicodeDecodeError, csv.Error):
        return data
    out = io.StringIO()
    csv.writer(
        out, delimiter=base.separator, quoting=csv.QUOTE_ALL, lineterminator="\r\n"
    ).writerows(rows)
    return out.getvalue().encode(base.encoding)


OF_CELLS: tuple[OfCells, ...] = (
    wrong_types, huge_numbers, huge_field, control_characters, invisible_marks, nested_quotes,
    dates_in_other_orders, decimal_commas, ragged_rows, blank_and_total_rows, duplicated_header,
    changed_header, no_header, header_only, dropped_column, permuted_columns, added_column,
    swapped_values, repeated_rows, spaces,
)  # fmt: skip
OF_BYTES: tuple[OfBytes, ...] = (
    truncated, other_bytes, lost_or_repeated_part, quotes, null_bytes, invalid_encoding,
    other_encoding, separators, line_ends, empty, other_quoting,
)  # fmt: skip
CLASSES = tuple(item.__name__ for item in (*OF_CELLS, *OF_BYTES))


def mutated(random: Random, base: BaseFile, kind: str) -> bytes:
    """Return a file mutated in one way, and in a third of cases in a second way too."""
    cells = [item for item in OF_CELLS if item.__name__ == kind]
    raw = [item for item in OF_BYTES if item.__name__ == kind]
    if random.random() < 1 / 3:
        raw.append(_pick(random, OF_BYTES))
    for change in cells:
        base = change(random, base)
    data = base.text().encode(base.encoding, "replace")
    for alter in raw:
        data = alter(random, data, base)
    return data
