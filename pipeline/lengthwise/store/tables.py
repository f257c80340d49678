"""Makes the tables of record from the data dictionary: types, enums, limits, comments."""

from lengthwise.dictionary import Field, Schema, all_schemas
from lengthwise.errors import StoreError
from lengthwise.store.database import SCHEMA_VERSION, Connection, run_file, transaction
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


def _current_view(export: Schema, catalogue: str) -> str:
    stored = ", ".join(item.name for item in export.stored)
    return (
        f"create or replace temp view current_{export.name} as "
        f"select {stored} from {catalogue}record.{export.name} where superseded_by is null"
    )


def ensure_tables(connection: Connection) -> None:
    """Make what is missing in a database, whole or not at all; refuse a newer version's."""
    with transaction(connection):
        _make_tables(connection)


def _make_tables(connection: Connection) -> None:
    run_file(connection, query("store", "loads"))
    row = connection.execute("select max(version) from record.schema_version").fetchone()
    found = row[0] if row else None
    if found is not None and found > SCHEMA_VERSION:
        raise StoreError(
            "the database was made by a newer version of lengthwise; install that version"
        )
    if found is None:
        for export in all_schemas().values():
            for statement in _statements(export):
                connection.execute(statement)
        connection.execute(
            "insert into record.schema_version values ($v)", {"v": SCHEMA_VERSION}
        )
    for name in ("tooth_lengths", "usual_canals", "results"):
        run_file(connection, query("store", name))


def current_views(connection: Connection, catalogue: str = "") -> None:
    """Make the views of the rows that count now, for this connection.

    `catalogue` names an attached database, with its dot, or is empty for the own one.
    """
    for export in all_schemas().values():
        connection.execute(_current_view(export, catalogue))
