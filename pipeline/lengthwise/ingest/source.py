"""Looks at one file before it is loaded: hash, encoding, header, and whether it needs repair."""

import codecs
import csv
import hashlib
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from lengthwise.dictionary import Schema
from lengthwise.errors import UnreadableError
from lengthwise.ingest.identifiers import header_hits, refuse
from lengthwise.ingest.mapping import FileRule
from lengthwise.ingest.shapes import BadShape

_CHUNK = 1 << 20
_CONTROLS = [bytes([code]) for code in (*range(32), 127) if code not in (9, 10, 13)]
_LONE_RETURN = re.compile(rb"\r(?!\n|$)")


@dataclass(frozen=True, slots=True)
class SourceFile:
    """One export file, opened and understood but not yet judged.

    `columns` holds one dictionary field name per column of the file, in file order, or ''
    for a column that is not read. `plain` says that the fast reader may take it as it is.
    `row_numbers`, where not empty, gives for each row its number in the user's own file;
    `misshapen` holds records of that file that are empty rows here.
    """

    path: Path
    name: str
    export: str
    rule: FileRule
    sha256: str
    size_bytes: int
    text_path: Path
    header: tuple[str, ...]
    columns: tuple[str, ...]
    plain: bool
    row_numbers: tuple[int, ...] = ()
    misshapen: tuple[BadShape, ...] = ()


def _chunks(path: Path) -> Iterator[bytes]:
    with path.open("rb") as handle:
        while chunk := handle.read(_CHUNK):
            yield chunk


@dataclass(frozen=True, slots=True)
class _Survey:
    """What the bytes of a file tell: `odd` ones need the careful reader."""

    sha256: str
    odd: bool
    ascii_only: bool


def _survey(path: Path, encoding: str) -> _Survey:
    digest, odd, ascii_only = hashlib.sha256(), False, True
    wide = encoding.startswith(("utf-16", "utf-32"))
    # The hash takes as long as all the rest, and leaves the interpreter free meanwhile.
    with ThreadPoolExecutor(1) as hasher:
        hashed = hasher.submit(digest.update, b"")
        for number, chunk in enumerate(_chunks(path)):
            hashed.result()
            hashed = hasher.submit(digest.update, chunk)
            if number == 0 and not wide and chunk.count(b"\0") > len(chunk) // 100:
                raise UnreadableError(
                    f"{path.name}: this is not a text table (it holds binary data); export it "
                    "as CSV, or declare its encoding in mapping.toml if it is UTF-16"
                )
            odd = odd or (not wide and _is_odd(chunk))
            ascii_only = ascii_only and chunk.isascii()
    return _Survey(digest.hexdigest(), odd, ascii_only)


def _is_odd(chunk: bytes) -> bool:
    """Return whether a stray control character stands in it, or a line end of old."""
    if any(control in chunk for control in _CONTROLS):
        return True
    return b"\r" in chunk and _LONE_RETURN.search(chunk) is not None


def _as_utf8(path: Path, encoding: str, work: Path, *, ascii_only: bool) -> Path:
    """Return a UTF-8 copy of the file without byte-order mark, or the file itself."""
    with path.open("rb") as handle:
        marked = handle.read(3) == codecs.BOM_UTF8
    if encoding == "utf-8" and not marked:
        if not ascii_only:
            _require_utf8(path)
        return path
    target = work / f"{path.stem}-{abs(hash(path)):x}.utf8.csv"
    codec = "utf-8-sig" if encoding in ("utf-8", "utf-8-sig") else encoding
    decoder = codecs.getincrementaldecoder(codec)(errors="strict")
    lines = 1
    with target.open("wb") as out:
        try:
            for chunk in _chunks(path):
                text = decoder.decode(chunk)
                lines += text.count("\n")
                out.write(text.encode("utf-8"))
            out.write(decoder.decode(b"", True).encode("utf-8"))
        except UnicodeError:
            raise _encoding_error(path, lines) from None
    return target


def _require_utf8(path: Path) -> None:
    decoder = codecs.getincrementaldecoder("utf-8")(errors="strict")
    lines = 1
    try:
        for chunk in _chunks(path):
            lines += decoder.decode(chunk).count("\n")
        decoder.decode(b"", True)
    except UnicodeDecodeError:
        raise _encoding_error(path, lines) from None


def _encoding_error(path: Path, line: int) -> UnreadableError:
    return UnreadableError(
        f"{path.name}: near line {line} the text is not in the declared encoding; declare the "
        "right one in mapping.toml or with --encoding (utf-8, windows-1252, utf-16, ...)"
    )


def _header(text_path: Path, name: str, separator: str) -> tuple[str, ...]:
    with text_path.open(encoding="utf-8", newline="") as handle:
        first = handle.readline(1 << 20)
    if not first.strip():
        raise UnreadableError(f"{name}: the file is empty; expected a header line with columns")
    cells = next(csv.reader([first], delimiter=separator))
    return tuple(cell.strip() for cell in cells)


def _match(source: str, header: tuple[str, ...], rule: FileRule, schema: Schema) -> list[str]:
    """Return the field name of every column; raise with what is wrong and what to do."""
    known = {item.name for item in schema.fields}
    wanted = [rule.columns.get(cell, cell.lower()) for cell in header]
    fields = [
        "" if cell in rule.ignore or (cell.startswith("_") and item not in known) else item
        for cell, item in zip(header, wanted, strict=True)
    ]
    if not known.intersection(fields):
        raise UnreadableError(_no_column_message(source, header, known, rule))
    unknown = [str(at + 1) for at, item in enumerate(fields) if item and item not in known]
    if unknown:
        raise UnreadableError(
            f"{source}: column number {', '.join(unknown)} is not in the data dictionary for "
            f"{schema.name}; map it to a field or list it under ignore in mapping.toml"
        )
    repeated = sorted({item for item in fields if item and fields.count(item) > 1})
    if repeated:
        raise UnreadableError(
            f"{source}: the header names {', '.join(repeated)} more than once; keep one of each"
        )
    missing = [
        item.name
        for item in schema.fields
        if item.required and item.name not in fields and item.derived_from not in fields
    ]
    if missing:
        raise UnreadableError(
            f"{source}: required column {', '.join(missing)} is missing; add it to the export "
            "or map another column to it in mapping.toml"
        )
    return fields


def _no_column_message(
    source: str, header: tuple[str, ...], known: set[str], rule: FileRule
) -> str:
    line = rule.dialect.separator.join(header)
    for name, mark in ((";", ";"), (",", ","), ("tab", "\t"), ("|", "|")):
        cells = {cell.strip().strip('"').lower() for cell in line.split(mark)}
        if mark != rule.dialect.separator and known & cells:
            return (
                f"{source}: the columns seem to be separated by {name}, not as declared; "
                f"declare it in mapping.toml or with --separator '{name}'"
            )
    return (
        f"{source}: the first line names none of the expected columns; is the header line "
        "missing, or is this another table?"
    )


def read_text(path: Path, encoding: str, work: Path) -> tuple[str, bool, Path, int]:
    """Return (hash, whether it needs the careful reader, UTF-8 text, size) of a file.

    Raises
    ------
    UnreadableError
        The file is absent, binary or wrongly encoded.
    """
    try:
        size = path.stat().st_size
        found = _survey(path, encoding)
        text = _as_utf8(path, encoding, work, ascii_only=found.ascii_only)
        return found.sha256, found.odd, text, size
    except OSError as error:
        reason = "is not there" if isinstance(error, FileNotFoundError) else "cannot be opened"
        raise UnreadableError(
            f"{path.name}: the file {reason}; check its name and rights"
        ) from None


def open_source(path: Path, rule: FileRule, schema: Schema, work: Path) -> SourceFile:
    """Return what is known of a file before its rows are judged.

    Raises
    ------
    UnreadableError
        The file is absent, empty, binary, wrongly encoded, or its header does not fit. The
        message never holds a value of a data row.
    """
    sha256, odd, text_path, size = read_text(path, rule.dialect.encoding, work)
    if size == 0:
        raise UnreadableError(f"{path.name}: the file is empty; expected a header line")
    header = _header(text_path, path.name, rule.dialect.separator)
    known = frozenset(item.name for item in schema.fields)
    refuse(
        header_hits(
            text_path, path.name, header, rule.dialect.separator, known, frozenset(rule.reasons)
        )
    )
    columns = tuple(_match(path.name, header, rule, schema))
    return SourceFile(
        path, path.name, rule.export, rule, sha256, size, text_path, header, columns, not odd
    )
