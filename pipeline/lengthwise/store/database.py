"""Opens the database and runs statements; the only module that imports duckdb.

Messages of the database engine quote rows, so none of them is ever passed on.
"""

import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd

from lengthwise.errors import StoreError
from lengthwise.store.creation import make_database
from lengthwise.store.queries import SqlFile

SCHEMA_VERSION = 2
LOAD_MEMORY = "3000MB"
Connection = duckdb.DuckDBPyConnection
EngineError = duckdb.Error


def connect(path: Path | None, *, read_only: bool = False) -> Connection:
    """Return a connection to a database file, or to memory when there is no path.

    Raises
    ------
    StoreError
        The file is absent (read only), locked by another process, or not a database of ours.
    """
    if path is None:
        return _quiet(duckdb.connect())
    if read_only and not path.exists():
        raise StoreError(f"{path.name}: there is no database yet; run lengthwise ingest first")
    try:
        if not path.exists():
            make_database(path)
        connection = _quiet(duckdb.connect(str(path), read_only=read_only))
    except duckdb.IOException as error:
        if "could not set lock" in str(error).lower():
            raise StoreError(
                f"{path.name}: another process has the database open; close it and try again"
            ) from None
        raise StoreError(
            f"{path.name}: the database cannot be opened; check the folder's rights and free "
            "space, or restore it from a backup"
        ) from None
    except duckdb.Error:
        raise StoreError(f"{path.name}: this is not a database of lengthwise") from None
    try:
        _refuse_newer(connection, path)
    except StoreError:
        connection.close()
        raise
    return connection


def stored_version(connection: Connection, catalogue: str = "") -> int | None:
    """Return the version of a database's tables of record, None where it has none yet."""
    # Asked of the catalogue first: a failed statement would end the caller's transaction.
    database = (
        catalogue.rstrip(".")
        or connection.execute("select current_database()").fetchall()[0][0]
    )
    there = connection.execute(
        "select count(*) from duckdb_tables() where database_name = $database "
        "and schema_name = 'record' and table_name = 'schema_version'",
        {"database": database},
    ).fetchall()
    if not there[0][0]:
        return None
    found = connection.execute(
        f"select max(version) from {catalogue}record.schema_version"
    ).fetchall()
    return None if found[0][0] is None else int(found[0][0])


def _refuse_newer(connection: Connection, path: Path, catalogue: str = "") -> None:
    found = stored_version(connection, catalogue)
    if found is not None and found > SCHEMA_VERSION:
        raise StoreError(
            f"{path.name}: the database was made by a newer version of lengthwise (its tables "
            f"have version {found}, this program knows {SCHEMA_VERSION}); install that version. "
            "Nothing was changed"
        )


def _quiet(connection: Connection) -> Connection:
    """Show the engine's progress bar on long statements to a person only, never in a log."""
    shown = "true" if sys.stdout.isatty() else "false"
    # A notebook kernel refuses the setting and draws no bar either.
    with suppress(duckdb.InvalidInputException):
        connection.execute(f"set enable_progress_bar = {shown}")
    return connection


def work_within(connection: Connection, folder: Path) -> None:
    """Let the engine write into a folder what would pass its share of memory.

    A load then takes no more memory for a longer file; ten million readings need no folder.
    """
    # The folder first: a limit alone would end a long statement instead. A path with a quote
    # in it cannot be bound here either.
    place = str(folder).replace("'", "''")
    connection.execute(f"set temp_directory = '{place}'")
    connection.execute(f"set memory_limit = '{LOAD_MEMORY}'")


def attach(connection: Connection, path: Path) -> str:
    """Attach a database read-only; return its catalogue with a dot, or '' where there is none."""
    if not path.exists():
        return ""
    literal = "'" + str(path).replace("'", "''") + "'"  # a path cannot be bound here
    try:
        connection.execute(f"attach {literal} as stored (read_only)")
    except duckdb.Error:
        raise StoreError(
            f"{path.name}: the database cannot be opened; is another process using it?"
        ) from None
    _refuse_newer(connection, path, "stored.")
    return "stored."


@contextmanager
def transaction(connection: Connection) -> Iterator[None]:
    """Run a block as one transaction; on any failure the database is as it was before."""
    connection.execute("begin")
    try:
        yield
    except BaseException:
        connection.execute("rollback")
        raise
    connection.execute("commit")


@contextmanager
def plain_errors(doing: str) -> Iterator[None]:
    """Turn engine errors into ours, without their text, which may quote a row."""
    try:
        yield
    except duckdb.Error as error:
        kind = type(error).__name__
        raise StoreError(
            f"{doing} failed in the database ({kind}); nothing was stored. Check free disk "
            "space and rights, then try again"
        ) from None


def run_file(
    connection: Connection, sql: SqlFile, values: dict[str, Any] | None = None
) -> None:
    """Run one SQL file with exactly the parameters that its header names."""
    connection.execute(sql.text, _bound(sql, values))


def fetch(
    connection: Connection, sql: SqlFile, values: dict[str, Any] | None = None
) -> pd.DataFrame:
    """Return the rows of one SQL file as a frame."""
    return connection.execute(sql.text, _bound(sql, values)).df()


def _bound(sql: SqlFile, values: dict[str, Any] | None) -> dict[str, Any]:
    given = values or {}
    missing = set(sql.parameters) - set(given)
    if missing:
        raise ValueError(f"{sql.name} needs the parameters {sorted(missing)}")
    return {name: given[name] for name in sql.parameters}
