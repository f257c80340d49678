"""Lists loads and takes one back, whole or not at all; what was taken back stays on record."""

import getpass
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from lengthwise.dictionary import Schema, all_schemas
from lengthwise.errors import StoreError
from lengthwise.store.database import Connection, plain_errors, transaction
from lengthwise.store.queries import query


@dataclass(frozen=True, slots=True)
class Undone:
    """What undoing a load changed: rows removed and rows that count again."""

    load_id: int
    rows_removed: int
    rows_restored: int


def listed_loads(connection: Connection) -> list[dict[str, Any]]:
    """Return one dict per load by number; those taken back have `undone_at`."""
    return _records(connection, "loads_listed")


def listed_changes(connection: Connection) -> list[dict[str, Any]]:
    """Return what each file of each load changed, one dict per changed field."""
    return _records(connection, "load_changes")


def _records(connection: Connection, name: str) -> list[dict[str, Any]]:
    cursor = connection.execute(query("queries", name).text)
    names = [item[0] for item in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _number(connection: Connection, statement: str, load_id: int) -> int:
    return int(connection.execute(statement, {"load": load_id}).fetchall()[0][0])


def _refuse_if_built_on(connection: Connection, export: Schema, load_id: int) -> None:
    """Raise when a later load stands on this one's rows."""
    table = f"record.{export.name}"
    superseded = _number(
        connection,
        f"select coalesce(max(superseded_by), 0) from {table} where load_id = $load",
        load_id,
    )
    # A later row that equalled a row of this load was not stored again: it would be lost.
    unchanged = _number(
        connection,
        "select coalesce(max(load_id), 0) from record.load_files where load_id > $load "
        f"and export = '{export.name}' and rows_unchanged > 0 "
        f"and exists (select 1 from {table} where load_id = $load)",
        load_id,
    )
    later = max(superseded, unchanged)
    if later:
        raise StoreError(
            f"load {load_id} cannot be undone: load {later} corrected or confirmed some of its "
            f"{export.name}; undo load {later} first"
        )


def _refuse_orphans(connection: Connection, export: Schema, load_id: int) -> None:
    if not export.parent:
        return
    key = ", ".join(export.parent_key)
    # Rows that follow a canal may leave it empty; then only the treatment is their parent.
    present = " and ".join(f"child.{name} is not null" for name in export.parent_key)
    orphans = connection.execute(
        f"select min(child.load_id) from record.{export.name} as child anti join "
        f"(select {key} from record.{export.parent} where superseded_by is null) as parent "
        f"using ({key}) where child.superseded_by is null and {present}"
    ).fetchall()[0][0]
    if orphans is not None:
        raise StoreError(
            f"load {load_id} cannot be undone: {export.name} of load {orphans} belong to its "
            f"{export.parent}; undo load {orphans} first"
        )


def _take_back(connection: Connection, export: Schema, load_id: int) -> tuple[int, int]:
    table, load = f"record.{export.name}", {"load": load_id}
    removed = _number(
        connection, f"select count(*) from {table} where load_id = $load", load_id
    )
    restored = _number(
        connection, f"select count(*) from {table} where superseded_by = $load", load_id
    )
    connection.execute(f"delete from {table} where load_id = $load", load).fetchall()
    connection.execute(
        f"update {table} set superseded_by = null where superseded_by = $load", load
    ).fetchall()
    return removed, restored


def undo_load(connection: Connection, load_id: int) -> Undone:
    """Take a load back in one transaction: its rows go, rows it superseded count again.

    Raises
    ------
    StoreError
        There is no such load, or a later load stands on its rows; nothing is changed then.
    """
    schemas = list(all_schemas().values())
    with plain_errors("undoing the load"), transaction(connection):
        if not _number(
            connection, "select count(*) from record.loads where load_id = $load", load_id
        ):
            raise StoreError(f"there is no load {load_id}; lengthwise loads lists them")
        for export in schemas:
            _refuse_if_built_on(connection, export, load_id)
        counts = [_take_back(connection, export, load_id) for export in schemas]
        for export in schemas:
            _refuse_orphans(connection, export, load_id)
        done = Undone(load_id, sum(pair[0] for pair in counts), sum(pair[1] for pair in counts))
        _note(connection, done)
        for name in ("findings", "quarantine", "load_changes", "load_files", "loads"):
            connection.execute(
                f"delete from record.{name} where load_id = $load", {"load": load_id}
            ).fetchall()
    return done


def _note(connection: Connection, done: Undone) -> None:
    """Leave a row that says who took the load back, when, and what went and came back."""
    connection.execute(
        "insert into record.undone_loads select loads.load_id, any_value(loads.loaded_at), $at, "
        "$by, string_agg(load_files.file_name, ', ' order by load_files.file_number), "
        "sum(load_files.rows_read), sum(load_files.rows_accepted), "
        "sum(load_files.rows_quarantined), $removed, $restored from record.loads "
        "inner join record.load_files using (load_id) where load_id = $load "
        "group by loads.load_id",
        {
            "load": done.load_id, "at": datetime.now(UTC).replace(tzinfo=None), "by": _who(),
            "removed": done.rows_removed, "restored": done.rows_restored,
        },
    ).fetchall()  # fmt: skip


def _who() -> str:
    """Return the name of the account that runs the program."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown"
