"""Checks or loads one file and asserts what must hold for every file, however broken."""

import contextlib
import csv
import io
import logging
import re
import shutil
import tomllib
import traceback
import warnings
from dataclasses import dataclass
from pathlib import Path

from folders import folder_with
from fuzz.base_files import MARK, BaseFile, tidy_files
from lengthwise import screens
from lengthwise.dictionary import EXPORTS
from lengthwise.errors import IdentifierError, LengthwiseError, SettingsError, UnreadableError
from lengthwise.folder import AuditFolder
from lengthwise.ingest.draft_file import drafts
from lengthwise.intake import IntakeResult, check_files, ingest_files
from lengthwise.store.database import connect

OUTCOMES = ("clean", "findings", "unreadable", "identifiers", "settings")
_REFUSALS = {
    UnreadableError: "unreadable", IdentifierError: "identifiers", SettingsError: "settings"
}  # fmt: skip


class Broken(AssertionError):
    """What must hold for every file did not hold for this one."""


@dataclass(frozen=True, slots=True)
class Workshop:
    """A folder to work in: `tidy` has the parents of the tidy files stored, `own` has nothing."""

    tidy: AuditFolder
    own: AuditFolder
    stored: Path
    before: dict[str, list]


def workshop(path: Path) -> Workshop:
    """Return a new workshop."""
    tidy, own = folder_with(path / "tidy"), folder_with(path / "own")
    for base in tidy_files().values():
        (tidy.exports / base.name).write_text(base.text(), encoding="utf-8")
    result = ingest_files(tidy, [], {})
    require(result.rows_quarantined == 0, "the files to mutate are at fault themselves")
    stored = path / "stored.duckdb"
    shutil.copyfile(tidy.database, stored)
    return Workshop(tidy, own, stored, contents(stored))


def require(condition: bool, message: str) -> None:
    """Raise Broken with a message unless a condition holds."""
    if not condition:
        raise Broken(message)


def untold(text: str, place: str) -> None:
    """Require that a text holds nothing of a row."""
    require(MARK not in text, f"a value of a row is in {place}")


@contextlib.contextmanager
def listening():
    """Yield a buffer that gets all that is printed or logged, and every warning."""
    heard = io.StringIO()
    handler = logging.StreamHandler(heard)
    logging.getLogger().addHandler(handler)
    try:
        with (
            contextlib.redirect_stdout(heard),
            contextlib.redirect_stderr(heard),
            warnings.catch_warnings(),
        ):
            warnings.simplefilter("error")
            yield heard
    finally:
        logging.getLogger().removeHandler(handler)


def rows_in(data: bytes, base: BaseFile) -> int | None:
    """Return the rows below the header by a count of its own, or None where a file is not well-formed."""
    try:
        text = data.decode(base.encoding).removeprefix("\ufeff")
    except UnicodeDecodeError:
        return None
    if '"' not in text:
        # Blank lines are no rows; one before the header is no header either.
        lines = re.split("\r\n|\r|\n", text)
        return len([line for line in lines if line]) - 1 if lines[0].strip() else None
    try:
        records = list(
            csv.reader(io.StringIO(text, newline=""), delimiter=base.separator, strict=True)
        )
    except csv.Error:
        return None
    return len([cells for cells in records if cells]) - 1 if records and records[0] else None


def _accounted(result: IntakeResult, data: bytes, base: BaseFile) -> None:
    for item in result.judged:
        total = item.rows_accepted + item.rows_quarantined
        require(total == item.rows_read, "accepted and quarantined rows are not the rows read")
        require(item.rows_accepted >= 0, "more rows are set aside than read")
    errors = (
        result.findings[result.findings["severity"] == "error"] if len(result.findings) else []
    )
    set_aside = sum(item.rows_quarantined for item in result.judged)
    require(
        bool(len(errors)) == bool(set_aside), "rows are set aside without a finding, or not"
    )
    known = base.mapping or result.unchanged_files
    expected = None if known else rows_in(data, base)
    if expected is not None:
        read = sum(item.rows_read for item in result.judged)
        require(read == expected, f"{read} rows read, {expected} rows in the file")


def _told(result: IntakeResult) -> None:
    untold(screens.intake(result), "the last screen")
    names = [name for name in result.findings.columns if name != "row_number"]
    untold(result.findings[names].to_csv(), "the findings")


def contents(database: Path) -> dict[str, list]:
    """Return all rows of record of a database, to compare before and after."""
    connection = connect(database, read_only=True)
    try:
        names = [*EXPORTS, "loads", "load_files", "findings", "quarantine"]
        return {
            name: connection.execute(f"select * from record.{name} order by all").fetchall()
            for name in names
        }
    finally:
        connection.close()


def _stored(result: IntakeResult, before: dict[str, list], after: dict[str, list]) -> None:
    if result.load is None:
        require(before == after, "a load that changed nothing changed the database")
        return
    loads = len(after["loads"]) - len(before["loads"])
    require(loads == 1, "one load did not leave one load in the database")
    files = after["load_files"][len(before["load_files"]) :]
    require(len(files) == len(result.judged), "a file of the load is not in the database")
    added = sum(len(after[name]) - len(before[name]) for name in EXPORTS)
    unchanged = sum(item.unchanged for item in result.load.files)
    accepted = sum(item.rows_accepted for item in result.judged)
    require(added + unchanged == accepted, "rows stored are not the rows accepted")
    aside = len(after["quarantine"]) - len(before["quarantine"])
    require(
        aside == sum(item.rows_quarantined for item in result.judged),
        "rows in quarantine are not the rows set aside",
    )


def drafted(path: Path) -> int:
    """Draft a mapping for a file; return the number of drafts, each of which must be valid TOML."""
    try:
        found = drafts(path)
    except UnreadableError as error:
        untold(str(error), "the message of the draft")
        return 0
    for item in found:
        try:
            tomllib.loads(item.text)
        except tomllib.TOMLDecodeError as error:
            raise Broken("a draft is no valid TOML") from error
    return len(found)


def judged(place: Workshop, base: BaseFile, data: bytes, *, load: bool) -> str:
    """Return the outcome of one file; raise Broken where something that must hold does not."""
    folder = place.own if base.mapping else place.tidy
    path = folder.exports / base.name
    path.write_bytes(data)
    folder.mapping.write_text(base.mapping, encoding="utf-8")
    if load:
        shutil.copyfile(place.stored, folder.database)
    elif base.mapping:
        folder.database.unlink(missing_ok=True)
    work = ingest_files if load else check_files
    with listening() as heard:
        drafted(path)
        try:
            result = work(folder, [path], {})
        except tuple(_REFUSALS) as error:
            untold(str(error), "the message of the error")
            untold("".join(traceback.format_exception(error)), "the error's chain")
            require(path.stem in str(error), "the message does not name the file")
            require(
                not load or contents(folder.database) == place.before,
                "a refused file was stored",
            )
            return _REFUSALS[type(error)]
        except LengthwiseError as error:
            raise Broken(f"{type(error).__name__}: {error}") from error
        _accounted(result, data, base)
        _told(result)
        if load:
            _stored(result, place.before, contents(folder.database))
    untold(heard.getvalue(), "what was printed or logged")
    return "clean" if result.findings.empty else "findings"
