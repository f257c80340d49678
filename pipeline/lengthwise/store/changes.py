"""Counts what a load changes: fields of corrected rows, and earlier rows that it leaves out."""

from lengthwise.check.judge import JudgedFile
from lengthwise.dictionary import EXPORTS, Schema
from lengthwise.store.database import Connection


def differing_fields(connection: Connection, export: Schema) -> dict[int, dict[str, int]]:
    """Return, per file, how many corrected rows differ in each field.

    Reads `matched_<export>`, the new rows beside the current ones of the same key.
    """
    name = export.name
    fields = [item.name for item in export.stored if item.name not in export.key]
    if not fields:
        return {}
    counts = ", ".join(
        f"count(*) filter (where cast(loading.{field} as varchar) is distinct from "
        f"cast(known.{field} as varchar))"
        for field in fields
    )
    rows = connection.execute(
        f"select matched.file_number, {counts} from matched_{name} as matched "
        f"inner join loading_{name} as loading using (file_number, row_number) "
        f"inner join record.{name} as known on known.rowid = matched.known_row "
        "where not matched.is_same group by matched.file_number"
    ).fetchall()
    return {
        number: {
            field: count for field, count in zip(fields, counted, strict=True) if count
        }
        for number, *counted in rows
    }  # fmt: skip


def absent_rows(
    connection: Connection, export: Schema, judged: list[JudgedFile]
) -> dict[int, int]:
    """Return, per file, how many current rows of the earlier files it corrects it leaves out.

    A file corrects an earlier one when it holds some of its rows under the same name, or at
    least half of them. Rows of this load that were set aside are not left out.
    """
    name = export.name
    same_key = " and ".join(
        f"cast(given.{key} as varchar) is not distinct from cast(known.{key} as varchar)"
        for key in export.key
    )
    connection.execute(
        f"create or replace temp table found_{name} as select distinct given.file_number, "
        f"known.rowid as known_row from checked_{name} as given inner join record.{name} as "
        f"known on {same_key} where known.superseded_by is null"
    )
    found = {}
    for item in judged:
        rows = connection.execute(
            "with earlier as (select load_files.file_name, count(*) as held, "
            "count(own.known_row) as repeated, count(*) - count(whole.known_row) as absent "
            f"from record.{name} as known "
            "inner join record.load_files using (load_id, file_number) "
            f"left join (select known_row from found_{name} where file_number = $number) as own "
            "on known.rowid = own.known_row "
            f"left join (select distinct known_row from found_{name}) as whole "
            "on known.rowid = whole.known_row where known.superseded_by is null "
            "group by load_id, file_number, load_files.file_name) "
            "select coalesce(sum(absent), 0) from earlier where repeated > 0 "
            "and (file_name = $name or repeated * 2 >= held)",
            {"number": item.file_number, "name": item.source.name},
        ).fetchall()
        found[item.file_number] = int(rows[0][0])
    return found


def corrected_since(connection: Connection, sha256: str) -> int | None:
    """Return the last load that corrected rows of a loaded file, None where none did."""
    last = connection.execute(
        "select max(superseded_by) from ("
        + " union all ".join(
            f"select superseded_by, load_id, file_number from record.{name}" for name in EXPORTS
        )
        + ") as stored inner join record.load_files using (load_id, file_number) "
        "where sha256 = $sha256",
        {"sha256": sha256},
    ).fetchall()
    return None if last[0][0] is None else int(last[0][0])
