"""Makes the tables of record from the data dictionary: types, enums, limits, comments."""

from pathlib import Path

from lengthwise.dictionary import Field, Schema, all_schemas
from lengthwise.store.database import (
    SCHEMA_VERSION,
    Connection,
    connect,
    plain_errors,
    run_file,
    stored_version,
    transaction,
)
from lengthwise.store.queries import query

_TYPES = {"number": "double", "integer": "integer", "boolean": "boolean", "date": "date"}


def _literal(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _enum_name(export: Schema, item: Field) -> str:
    return f"record.{export.name}_{item.name}"


def _is_enum(item: Field) -> bool:
    # A practice may add values to an extensible field, so it cannot be a closed type.
    return bool(item.enum) and not item.extensible


def _column(export: Schema, item: Field) -> str:
    kind = _enum_name(export, item) if _is_enum(item) else _TYPES.get(item.type, "varchar")
    parts = [item.name, kind]
    if item.required:
        parts.append("not null")
    limits = [
        f"{item.name} {sign} {limit}"
        for sign, limit in ((">=", item.minimum), ("<=", item.maximum))
        if limit is not None
    ]
    if limits:
        parts.append(f"check ({' and '.join(limits)})")
    return " ".join(parts)


def _statements(export: Schema) -> list[str]:
    enums = [
        f"create type {_enum_name(export, item)} as enum ({', '.join(map(_literal, item.enum))})"
        for item in export.stored
        if _is_enum(item)
    ]
    columns = ", ".join(_column(export, item) for item in export.stored)
    table = (
        f"create table record.{export.name} ({columns}, load_id integer not null, "
        "file_number integer not null, row_number bigint not null, superseded_by integer)"
    )
    comments = [
        f"comment on column record.{export.name}.{item.name} is "
        + _literal(
            f"{item.title}: {item.description}" + (f" [{item.unit}]" if item.unit else "")
        )
        for item in export.stored
    ]
    return [*enums, table, *comments]


def _current_view(export: Schema, catalogue: str, there: set[str]) -> str:
    # A database of an older version, looked at but not brought up, lacks the newer columns.
    stored = ", ".join(
        item.name if item.name in there else f"null as {item.name}" for item in export.stored
    )
    return (
        f"create or replace temp view current_{export.name} as "
        f"select {stored} from {catalogue}record.{export.name} where superseded_by is null"
    )


def ensure_tables(connection: Connection) -> None:
    """Make what is missing in a database and bring an older one up, whole or not at all."""
    with transaction(connection):
        found = stored_version(connection)
        run_file(connection, query("store", "loads"))
        if found is None:
            _make_tables(connection)
        else:
            _bring_up(connection, found)
        for name in ("tooth_lengths", "usual_canals", "results"):
            run_file(connection, query("store", name))


def _make_tables(connection: Connection) -> None:
    for export in all_schemas().values():
        for statement in _statements(export):
            connection.execute(statement)
    _note_version(connection, SCHEMA_VERSION)


def _bring_up(connection: Connection, found: int) -> None:
    """Run the step to each later version in turn; connecting has refused newer databases."""
    for version in range(found + 1, SCHEMA_VERSION + 1):
        run_file(connection, query("store", f"to_version_{version}"))
        _note_version(connection, version)


def _note_version(connection: Connection, version: int) -> None:
    connection.execute("insert into record.schema_version values ($v)", {"v": version})


def connect_current(path: Path) -> Connection:
    """Return a connection to read from; a database of an older version is brought up first."""
    connection = connect(path, read_only=True)
    if stored_version(connection) == SCHEMA_VERSION:
        return connection
    connection.close()
    connection = connect(path)
    with plain_errors("bringing the database up to this version"):
        ensure_tables(connection)
    return connection


def current_views(connection: Connection, catalogue: str = "") -> None:
    """Make the views of the rows that count now, for this connection.

    `catalogue` names an attached database, with its dot, or is empty for the own one.
    """
    for export in all_schemas().values():
        table = f"{catalogue}record.{export.name}"
        described = connection.execute(f"describe {table}").fetchall()
        there = {row[0] for row in described}
        connection.execute(_current_view(export, catalogue, there))
