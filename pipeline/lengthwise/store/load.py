"""Stores the judged rows of one load in one transaction; corrections supersede, with history."""

from dataclasses import dataclass, field
from datetime import UTC, datetime

from lengthwise import __version__
from lengthwise.check.judge import JudgedFile
from lengthwise.dictionary import Schema
from lengthwise.errors import StoreError
from lengthwise.store.changes import absent_rows, differing_fields
from lengthwise.store.database import Connection, plain_errors, transaction


@dataclass(frozen=True, slots=True)
class FileOutcome:
    """What a load did with one file; accepted = added + superseding + unchanged.

    `changed_fields` says in how many superseding rows each field differs; `absent` counts rows
    of the earlier files it corrects that are not in it, and stay.
    """

    judged: JudgedFile
    unchanged: int
    superseding: int
    changed_fields: dict[str, int] = field(default_factory=dict)
    absent: int = 0

    @property
    def added(self) -> int:
        """Return the rows whose key was not known."""
        return self.judged.rows_accepted - self.unchanged - self.superseding


@dataclass(frozen=True, slots=True)
class LoadOutcome:
    """One load: its number and its files."""

    load_id: int
    files: tuple[FileOutcome, ...]


def known_hashes(connection: Connection) -> set[str]:
    """Return the hashes of all files that are loaded."""
    rows = connection.execute("select distinct sha256 from record.load_files").fetchall()
    return {row[0] for row in rows}


def _next_number(connection: Connection) -> int:
    """Return a number that no load has had, not even one that was taken back."""
    rows = connection.execute(
        "select coalesce(max(load_id), 0) + 1 from (select load_id from record.loads "
        "union all select load_id from record.undone_loads)"
    ).fetchall()
    return int(rows[0][0])


def _count(connection: Connection, statement: str) -> dict[int, int]:
    return dict(connection.execute(statement).fetchall())


def _split(connection: Connection, export: Schema) -> None:
    """Mark rows that equal a current row, and current rows that a new one supersedes."""
    name = export.name
    same_key = " and ".join(
        f"loading.{key} is not distinct from known.{key}" for key in export.key
    )
    values = [item.name for item in export.stored if item.name not in export.key]
    equal = " and ".join(
        f"cast(loading.{value} as varchar) is not distinct from cast(known.{value} as varchar)"
        for value in values
    )
    connection.execute(
        f"create or replace temp table matched_{name} as select loading.file_number, "
        f"loading.row_number, known.rowid as known_row, {equal or 'true'} as is_same "
        f"from loading_{name} as loading inner join record.{name} as known on {same_key} "
        "where known.superseded_by is null"
    )


def _store_export(
    connection: Connection, export: Schema, load_id: int, judged: list[JudgedFile]
) -> list[FileOutcome]:
    name = export.name
    _split(connection, export)
    per_file = (
        f"select file_number, count(*) from matched_{name} where {{}} group by file_number"
    )
    unchanged = _count(connection, per_file.format("is_same"))
    superseding = _count(connection, per_file.format("not is_same"))
    differing = differing_fields(connection, export)
    absent = absent_rows(connection, export, judged)
    _insert_rows(connection, export, load_id)
    return [
        FileOutcome(
            item, unchanged.get(item.file_number, 0), superseding.get(item.file_number, 0),
            differing.get(item.file_number, {}), absent[item.file_number],
        )
        for item in judged
    ]  # fmt: skip


def _insert_rows(connection: Connection, export: Schema, load_id: int) -> None:
    name = export.name
    connection.execute(
        f"update record.{name} set superseded_by = $load where rowid in "
        f"(select known_row from matched_{name} where not is_same)",
        {"load": load_id},
    )
    stored = ", ".join(item.name for item in export.stored)
    connection.execute(
        f"insert into record.{name} ({stored}, load_id, file_number, row_number, superseded_by) "
        f"select {stored}, $load, file_number, coalesce(own_row_number, row_number), null "
        f"from loading_{name} left join own_rows using (file_number, row_number) "
        f"anti join (select file_number, row_number from matched_{name} where is_same) "
        "as same using (file_number, row_number)",
        {"load": load_id},
    )


def _store_file(connection: Connection, load_id: int, outcome: FileOutcome) -> None:
    judged, source = outcome.judged, outcome.judged.source
    form = source.rule.dialect
    connection.execute(
        "insert into record.load_files values (" + ", ".join("?" * 17) + ")",
        [
            load_id, judged.file_number, source.export, source.name, source.sha256,
            source.size_bytes, form.separator, form.decimal, form.encoding, form.date_order,
            judged.rows_read, judged.rows_accepted, judged.rows_quarantined,
            outcome.unchanged, outcome.superseding, judged.date_regime, outcome.absent,
        ],
    )  # fmt: skip
    for name, count in outcome.changed_fields.items():
        connection.execute(
            "insert into record.load_changes values (?, ?, ?, ?)",
            [load_id, judged.file_number, name, count],
        )


def _require_all_rows(connection: Connection, judged: list[JudgedFile]) -> None:
    for item in judged:
        loading = connection.execute(
            f"select count(*) from loading_{item.source.export} where file_number = $number",
            {"number": item.file_number},
        ).fetchone()
        if loading is None or loading[0] != item.rows_accepted:
            raise StoreError(
                f"{item.source.name}: accepted and quarantined rows do not add up to the rows "
                "read; nothing was stored. Please report this"
            )


def store_load(
    connection: Connection, judged: list[JudgedFile], schemas: dict[str, Schema]
) -> LoadOutcome:
    """Store one judged load; raise StoreError and leave the database as it was on any failure."""
    _require_all_rows(connection, judged)
    with plain_errors("storing the load"), transaction(connection):
        load_id = _next_number(connection)
        connection.execute(
            "insert into record.loads values ($id, $at, $version)",
            {
                "id": load_id,
                "at": datetime.now(UTC).replace(tzinfo=None),
                "version": __version__,
            },
        )
        files = tuple(
            outcome
            for name, export in schemas.items()
            if (own := [item for item in judged if item.source.export == name])
            for outcome in _store_export(connection, export, load_id, own)
        )
        for outcome in files:
            _store_file(connection, load_id, outcome)
        connection.execute(
            f"insert into record.findings select {load_id}, file_number, row_number, export, "
            "column_name, code, severity from load_findings"
        )
        connection.execute(
            f"insert into record.quarantine select {load_id}, * exclude (export, row_values), "
            "export, row_values from load_quarantine"
        )
    return LoadOutcome(load_id, files)
