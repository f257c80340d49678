"""Judges keys: rows of one key that differ or repeat, and rows whose parent is nowhere.

The rows of each parent are counted once, in a table far shorter than the file; only rows of
parents that are crowded or absent are looked at one by one.
"""

from typing import Any

from lengthwise.check.codes import parent_code
from lengthwise.dictionary import Schema

# Bits of a positive 64-bit number; one more would be its sign.
_BITS = 62


def reject(connection: Any, export: Schema, code: str, column: str, rows: str) -> None:
    """Set rows aside for one reason; `rows` is SQL that gives file_number and row_number."""
    connection.execute(
        f"create or replace temp table newly as select distinct file_number, row_number from ({rows})"
    )
    connection.execute(
        "insert into load_findings select file_number, row_number, $export, $column, $code, "
        "'error' from newly",
        {"export": export.name, "column": column, "code": code},
    )
    connection.execute(
        "insert into load_rejected select $export, file_number, row_number from newly",
        {"export": export.name},
    )


def judge_keys(connection: Any, export: Schema) -> None:
    """Set aside all rows of one key that differ, and repeats of a row that is the same."""
    _group(connection, export)
    _repeated(connection, export)
    if not _any(connection, "repeated"):
        return
    key = ", ".join(export.key)
    rest = [item.name for item in export.stored if item.name not in export.key]
    values = f"row({', '.join(rest)})" if rest else "row(1)"
    connection.execute(
        "create or replace temp table same_key as "
        f"select loading.file_number, loading.row_number, "
        f"count(distinct {values}) over (partition by {key}) as versions, "
        f"row_number() over (partition by {key} order by file_number, row_number) as place "
        f"from loading_{export.name} as loading "
        f"semi join repeated on {_same('loading', 'repeated', export.key)}"
    )
    entity = export.entity
    conflicts = "select * from same_key where versions > 1"
    reject(connection, export, f"{entity}.key_conflict", key, conflicts)
    repeats = "select * from same_key where versions = 1 and place > 1"
    reject(connection, export, f"{entity}.duplicate_row", key, repeats)


def judge_parents(connection: Any, export: Schema) -> None:
    """Set aside the rows whose parent is neither in this load nor in an earlier one."""
    if not export.parent:
        return
    key = ", ".join(export.parent_key)
    connection.execute(
        f"create or replace temp table orphaned as select {key} from row_groups anti join "
        f"(select {key} from loading_{export.parent} union all select {key} from "
        f"current_{export.parent}) as parent using ({key})"
    )
    if _any(connection, "orphaned"):
        reject(
            connection, export, parent_code(export.entity, export.parent), key,
            f"select * from loading_{export.name} as loading "
            f"semi join orphaned on {_same('loading', 'orphaned', export.parent_key)}",
        )  # fmt: skip


def _group(connection: Any, export: Schema) -> None:
    """Make `row_groups`: the parents of the rows (without a parent, the keys) and how they fill.

    Every row sets one of 62 bits by the rest of its key. Where as many bits are set as there
    are rows, all keys differ; elsewhere two share a key, or a bit by chance.
    """
    group = export.parent_key or export.key
    rest = [name for name in export.key if name not in group]
    bit = f"cast(hash({', '.join(rest)}) % {_BITS} as bigint)" if rest else "cast(0 as bigint)"
    connection.execute(
        f"create or replace temp table row_groups as select {', '.join(group)}, "
        f"bit_count(bit_or(cast(1 as bigint) << {bit})) < count(*) as is_crowded "
        f"from loading_{export.name} group by {', '.join(group)}"
    )


def _repeated(connection: Any, export: Schema) -> None:
    """Make `repeated`: the keys that more than one row has."""
    key, group = ", ".join(export.key), export.parent_key or export.key
    connection.execute(
        f"create or replace temp table repeated as select {key} from loading_{export.name} as "
        "loading semi join (select * from row_groups where is_crowded) as crowded "
        f"on {_same('loading', 'crowded', group)} group by {key} having count(*) > 1"
    )


def _same(left: str, right: str, names: tuple[str, ...]) -> str:
    return " and ".join(f"{left}.{name} is not distinct from {right}.{name}" for name in names)


def _any(connection: Any, table: str) -> bool:
    return bool(connection.execute(f"select 1 from {table} limit 1").fetchall())
