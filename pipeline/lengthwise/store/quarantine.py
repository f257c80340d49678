"""Writes quarantined rows as CSV files that can be mended and loaded again."""

import csv
import json
import re
from pathlib import Path

from lengthwise.errors import StoreError
from lengthwise.ingest.mended import FIRST, marks
from lengthwise.store.database import Connection
from lengthwise.store.queries import query

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0")
_NUMBER = re.compile(r"^[+-]?[\d.,]+$")


def write_quarantine(connection: Connection, load_id: int, folder: Path) -> list[Path]:
    """Write one CSV per file with quarantined rows; return the paths.

    Each row stands under the dictionary's names and is preceded by `_file`, `_row`, `_codes` and
    marks of how its values are written; these are not read as fields when it is loaded again.
    """
    rows = connection.execute(
        query("queries", "quarantined_rows_of_load").text, {"load_id": load_id}
    ).fetchall()
    grouped: dict[tuple[int, str, str], list[dict[str, str]]] = {}
    for number, export, name, row_number, codes, values, decimal, date_order in rows:
        extra = {FIRST: name, "_row": str(row_number), "_codes": codes}
        extra |= dict.fromkeys(marks(decimal, date_order), "")
        own = {key: value or "" for key, value in json.loads(values).items()}
        guarded = {key: _guarded(value) for key, value in (extra | own).items()}
        grouped.setdefault((number, export, name), []).append(guarded)
    paths = []
    for (number, export, _), group in grouped.items():
        path = folder / f"{export}-load-{load_id:04d}-file-{number}.csv"
        _write(path, group)
        paths.append(path)
    return paths


def _guarded(value: str) -> str:
    """Return a value so that a spreadsheet program does not run it as a formula.

    Numbers keep their sign. No other value of the dictionary starts like a formula, so one
    that does must be mended anyway and the added sign is in nobody's way.
    """
    is_formula = value.startswith(_FORMULA_STARTS) and not _NUMBER.match(value)
    return f"'{value}" if is_formula else value


def _write(path: Path, rows: list[dict[str, str]]) -> None:
    names = list(dict.fromkeys(name for row in rows for name in row))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("w", encoding="utf-8", newline="") as handle:
            writer = csv.DictWriter(handle, names, restval="", lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)
    except OSError:
        raise StoreError(
            f"{path.name}: the quarantine file cannot be written; the rows are safe in the "
            "database. Check the folder's rights and free space"
        ) from None
