"""Replaces the values of chosen columns by codes, in a step of its own before any load.

By default a code is random and the look-up that leads back to the person is a file apart. With
a key file it is a keyed hash (HMAC-SHA-256), which leads back for anyone who holds the key. A
plain hash is not offered: the few possible record numbers could all be tried.
"""

import csv
import hashlib
import hmac
import io
import os
import secrets
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from lengthwise.errors import SettingsError, UnreadableError
from lengthwise.ingest.dialect import Dialect
from lengthwise.ingest.source import read_text

_KEY_BYTES = 32
_CODE_HEX = (
    16  # 64 bits: two of a million people share a code with a chance of 3 in 100 million
)
_LOOK_UP_HEADER = ["kind", "value", "code"]
Coder = Callable[[str, str], str]


@dataclass(frozen=True, slots=True)
class Replaced:
    """What was written: rows, and different values per column."""

    rows: int
    values: dict[str, int]


def normalised(value: str) -> str:
    """Return a value as it is compared: trimmed, composed, in one case, without leading zeros."""
    plain = unicodedata.normalize("NFC", value.strip()).casefold()
    return plain.lstrip("0") or "0" if plain.isdigit() else plain


def keyed_digest(key: bytes, message: bytes) -> str:
    """Return HMAC-SHA-256 in hexadecimal."""
    return hmac.new(key, message, hashlib.sha256).hexdigest()


def _private(path: Path, data: bytes) -> None:
    """Write a file that only its owner may read, whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    part = path.with_name(path.name + ".part")
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "wb") as handle:
        handle.write(data)
        handle.flush()
        os.fsync(handle.fileno())
    part.replace(path)


def require_apart(secret: Path, output: Path) -> None:
    """Raise when a key or look-up would lie beside the coded file or in an audit folder."""
    place = secret.resolve().parent
    if place == output.resolve().parent:
        raise SettingsError(
            f"{secret.name}: keep it in another folder than the coded file, so that they do not "
            "travel together"
        )
    if any((folder / "settings.toml").exists() for folder in (place, *place.parents)):
        raise SettingsError(
            f"{secret.name}: keep it outside the audit folder, which is copied and shared"
        )


class LookUp:
    """Random codes that stay the same from file to file, with the way back in one file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.codes: dict[tuple[str, str], str] = {}
        if path.exists():
            with path.open(encoding="utf-8", newline="") as handle:
                rows = list(csv.reader(handle))
            if rows[:1] != [_LOOK_UP_HEADER] or any(len(row) != 3 for row in rows):
                raise SettingsError(f"{path.name}: this is not a look-up of this program")
            self.codes = {(kind, value): code for kind, value, code in rows[1:]}
        self.taken = set(self.codes.values())

    def __call__(self, kind: str, value: str) -> str:
        """Return the code of a value; a new one is drawn from the system's random source."""
        key = (kind, normalised(value))
        if key not in self.codes:
            code = f"{kind[:1].upper()}{secrets.token_hex(5)}"
            while code in self.taken:
                code = f"{kind[:1].upper()}{secrets.token_hex(5)}"
            self.taken.add(code)
            self.codes[key] = code
        return self.codes[key]

    def save(self) -> None:
        """Write the look-up, readable by its owner only."""
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(_LOOK_UP_HEADER)
        writer.writerows([*key, code] for key, code in self.codes.items())
        _private(self.path, text.getvalue().encode("utf-8"))


def keyed(path: Path) -> Coder:
    """Return a coder with the key of a file; a missing key file is made from random bytes."""
    if not path.exists():
        _private(path, secrets.token_bytes(_KEY_BYTES))
    key = path.read_bytes()
    if len(key) < _KEY_BYTES:
        raise SettingsError(f"{path.name}: a key needs at least {_KEY_BYTES} bytes")

    def code(kind: str, value: str) -> str:
        digest = keyed_digest(key, f"{kind}\0{normalised(value)}".encode())
        return f"{kind[:1].upper()}{digest[:_CODE_HEX]}"

    return code


def _kinds(
    name: str, header: list[str], columns: dict[str, str], dropped: tuple[str, ...]
) -> dict[int, str]:
    for wanted in (*columns, *dropped):
        if header.count(wanted) != 1:
            raise UnreadableError(
                f"{name}: a column given to replace or drop is not there exactly once; check the "
                "header and the separator"
            )
    return {header.index(column): kind for column, kind in columns.items()}


def replace_values(
    source: Path, output: Path, form: Dialect, columns: dict[str, str],
    dropped: tuple[str, ...], code: Coder, work: Path,
) -> Replaced:  # fmt: skip
    """Write a copy of a file with coded columns; `columns` maps header to kind of person.

    Raises
    ------
    UnreadableError
        The file cannot be read, a column is not there, or a row has another width: its values
        could stand under the wrong header.
    """
    _, _, text, _ = read_text(source, form.encoding, work)
    seen: dict[str, set[str]] = {column: set() for column in columns}
    part = output.with_name(output.name + ".part")
    with (
        text.open(encoding="utf-8", newline="") as reading,
        part.open("w", encoding=form.encoding, newline="") as writing,
    ):
        records = filter(None, csv.reader(reading, delimiter=form.separator))
        writer = csv.writer(writing, delimiter=form.separator, lineterminator="\n")
        header = [cell.strip() for cell in next(records, [])]
        try:
            kinds = _kinds(source.name, header, columns, dropped)
            kept = [place for place, cell in enumerate(header) if cell not in dropped]
            writer.writerow([header[place] for place in kept])
            rows = 0
            for rows, cells in enumerate(records, start=1):
                if len(cells) != len(header):
                    raise UnreadableError(
                        f"{source.name}: row {rows} has another number of columns than the header"
                    )
                for place, kind in kinds.items():
                    if cells[place].strip():
                        cells[place] = code(kind, cells[place])
                        seen[header[place]].add(cells[place])
                writer.writerow([cells[place] for place in kept])
        except UnreadableError:
            part.unlink()
            raise
    return Replaced(rows, {column: len(values) for column, values in seen.items()})


def publish(output: Path) -> None:
    """Give the coded copy its name, after the look-up is safe."""
    output.with_name(output.name + ".part").replace(output)
