"""Writes quarantined rows as CSV files that can be mended and loaded again."""

import csv
import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from lengthwise.errors import StoreError
from lengthwise.ingest.mended import FIRST, marks
from lengthwise.scratch import file_beside, write_whole
from lengthwise.store.database import Connection
from lengthwise.store.queries import query

# Names the last load before one that sets rows aside, until these lie in the folder.
_ANNOUNCED = ".rows-to-come"
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0")
_NUMBER = re.compile(r"^[+-]?[\d.,]+$")


def announce_rows(connection: Connection, folder: Path) -> None:
    """Note that a load is to follow whose rows set aside belong into the folder.

    A process that is killed after the load is stored cannot write them; the next load does.
    """
    if not connection.execute("select count(*) from load_quarantine").fetchall()[0][0]:
        return
    last = connection.execute("select coalesce(max(load_id), 0) from record.loads").fetchall()
    with _plain_refusal(folder / _ANNOUNCED, "nothing was stored"):
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(folder / _ANNOUNCED, str(last[0][0]))


def write_announced(connection: Connection, folder: Path) -> list[Path]:
    """Write the rows that were announced, where their load was stored; return the paths."""
    place = folder / _ANNOUNCED
    if not place.is_file():
        return []
    last = place.read_text(encoding="utf-8").strip()
    loads = connection.execute(
        "select load_id from record.loads where load_id > try_cast($last as integer) order by 1",
        {"last": last},
    ).fetchall()
    paths = [path for row in loads for path in write_quarantine(connection, row[0], folder)]
    place.unlink()
    return paths


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
    safe = "the rows are safe in the database, and the next load writes the file"
    with _plain_refusal(path, safe), file_beside(path) as made:
        with made.open("w", encoding="utf-8", newline="") as handle:
            writer = csv.DictWriter(handle, names, restval="", lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)
        made.replace(path)


@contextmanager
def _plain_refusal(path: Path, state: str) -> Iterator[None]:
    try:
        yield
    except OSError:
        raise StoreError(
            f"{path.name}: the quarantine file cannot be written; {state}. Check the folder's "
            "rights and free space"
        ) from None
