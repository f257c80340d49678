"""Judges every row of the files of one load: field by field, key by key, across exports.

Rows never pass through Python on the way: each file is read once into a temporary table of
typed values with a mark for faulty rows; only faulty rows are read again, as text, to say what
is wrong and to keep them for the quarantine. `connection` is an open database connection.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lengthwise.check.codes import ERROR
from lengthwise.check.dates import date_regime, days_from_dates
from lengthwise.check.fields import quoted
from lengthwise.check.keys import judge_keys, judge_parents, reject
from lengthwise.check.reading import plan_reading
from lengthwise.check.scratch import SCRATCH_TABLES, make_limits, make_tables
from lengthwise.dictionary import EXPORTS, Schema
from lengthwise.ingest.repair import repair
from lengthwise.ingest.shapes import BadShape
from lengthwise.ingest.source import SourceFile


@dataclass(frozen=True, slots=True)
class JudgedFile:
    """What became of one file: accepted + quarantined = read."""

    source: SourceFile
    file_number: int
    rows_read: int
    rows_quarantined: int
    date_regime: str = ""

    @property
    def rows_accepted(self) -> int:
        """Return the rows that will be stored."""
        return self.rows_read - self.rows_quarantined


def _read_file(
    connection: Any, number: int, source: SourceFile, export: Schema, work: Path
) -> None:
    table = f"checked_{export.name}_{number}"
    bad = list(source.misshapen)
    plan = plan_reading(export, source)
    path = source.text_path
    if not source.plain or not _try_read(connection, table, plan.typed, path):
        repaired = repair(source, work)
        path, bad = repaired.path, [*bad, *repaired.bad_shapes]
        connection.execute(
            f"create or replace temp table {table} as {plan.typed}", {"path": str(path)}
        )
    _keep_faulty(connection, number, export, table, plan, path, bad)
    for shape in bad:
        _keep_bad_shape(connection, number, export, source, shape)


def _try_read(connection: Any, table: str, typed: str, path: Path) -> bool:
    """Return whether the fast reader took the file; a refusal sends it to the careful one."""
    try:
        connection.execute(
            f"create or replace temp table {table} as {typed}", {"path": str(path)}
        )
    except Exception as error:
        if type(error).__module__.partition(".")[0] not in ("duckdb", "_duckdb"):
            raise
        return False
    return True


def _keep_faulty(
    connection: Any, number: int, export: Schema, table: str, plan: Any, path: Path,
    bad: list[BadShape],
) -> None:  # fmt: skip
    if not connection.execute(f"select count(*) from {table} where is_faulty").fetchone()[0]:
        return
    misshapen = {shape.row_number for shape in bad}
    connection.execute(
        f"create or replace temp table raw_rows as select * from ({plan.raw}) as raw where "
        f"row_number in (select rowid + 1 from {table} where is_faulty) "
        "and row_number not in (select unnest($bad))",
        {"path": str(path), "bad": sorted(misshapen) or [0]},
    )
    connection.execute(
        f"insert into load_findings select {number}, row_number, '{export.name}', column_name, "
        f"code, '{ERROR}' from ({plan.findings})"
    )


def _keep_bad_shape(
    connection: Any, number: int, export: Schema, source: SourceFile, shape: BadShape
) -> None:
    count = range(1, 1 + len(shape.cells))
    own = [name or f"_column_{at}" for at, name in enumerate(source.columns, start=1)]
    names = [*own, *(f"_extra_{at}" for at in count)]
    if source.misshapen:
        # The cells are those of the user's own sheet, whose columns are others.
        names = [f"_cell_{at}" for at in count]
    # Nothing of a shifted row is kept where it could be a column left out, or a date.
    dated = any(name and export.field(name).type == "date" for name in source.columns)
    kept = [] if source.rule.ignore or dated else shape.cells
    values = dict(zip(names, kept, strict=False))
    connection.execute(
        "insert into load_findings values ($number, $row, $export, '', $code, 'error')",
        {
            "number": number,
            "row": shape.row_number,
            "export": export.name,
            "code": f"{export.entity}.{shape.fault}",
        },
    )
    connection.execute(
        "insert into load_quarantine values ($number, $row, $export, to_json($values))",
        {"number": number, "row": shape.row_number, "export": export.name, "values": values},
    )


def _combine(connection: Any, export: Schema, numbers: list[int]) -> None:
    parts = [
        f"select {number} as file_number, rowid + 1 as row_number, * from checked_{export.name}_{number}"
        for number in numbers
    ]
    if not parts:
        columns = ", ".join(f"null as {item.name}" for item in export.fields)
        parts = [
            f"select 0 as file_number, 0 as row_number, {columns}, true as is_faulty where false"
        ]
    connection.execute(
        f"create or replace temp view checked_{export.name} as {' union all '.join(parts)}"
    )
    stored = ", ".join(f"checked.{item.name}" for item in export.fields)
    connection.execute(
        f"create or replace temp view loading_{export.name} as "
        f"select checked.file_number, checked.row_number, {stored} "
        f"from checked_{export.name} as checked anti join ("
        f"select file_number, row_number from load_rejected where export = '{export.name}'"
        ") as rejected using (file_number, row_number) where not checked.is_faulty"
    )


def _judge_across(connection: Any, export: Schema, rules: list[Any], severity: str) -> None:
    for rule in rules:
        if rule.header["export"] != export.name or rule.header["severity"] != severity:
            continue
        column, code = rule.header["column"], rule.header["code"]
        if severity == ERROR:
            reject(connection, export, code, column, rule.text.rstrip().rstrip(";"))
        else:
            connection.execute(
                f"insert into load_findings select distinct file_number, row_number, "
                f"{quoted(export.name)}, {quoted(column)}, {quoted(code)}, 'warning' "
                f"from ({rule.text.rstrip().rstrip(';')})"
            )


def readable(source: SourceFile, work: Path) -> Path:
    """Return the text that the engine can read: the repaired copy where there is one."""
    path = work / f"{source.sha256[:16]}.repaired.csv"
    return path if path.exists() else source.text_path


def _keep_raw(
    connection: Any, number: int, source: SourceFile, export: Schema, work: Path
) -> None:
    """Copy the text of every rejected row of a file into the quarantine."""
    if not connection.execute(
        f"select count(*) from load_findings where severity = 'error' and file_number = {number}"
    ).fetchone()[0]:
        return  # the file need not be read again
    path = readable(source, work)
    plan = plan_reading(export, source)
    names = [name or f"_column_{at + 1}" for at, name in enumerate(source.columns)]
    # By the dictionary's names, so that mended rows load whatever the file's own columns are.
    packed = ", ".join(
        f"{quoted(name)}: {name}"
        for head, field, name in zip(source.header, source.columns, names, strict=True)
        if (field or not head) and head not in source.rule.ignore
    )
    connection.execute(
        f"insert into load_quarantine select {number}, row_number, '{export.name}', "
        f"cast(to_json({{{packed}}}) as varchar) from ({plan.raw}) as raw where row_number in ("
        "select row_number from load_findings where severity = 'error' "
        f"and file_number = {number} except select row_number from load_quarantine "
        f"where file_number = {number})",
        {"path": str(path)},
    )


def judge(
    connection: Any, sources: list[SourceFile], schemas: dict[str, Schema], rules: list[Any],
    tables: list[Any], limits_mm: dict[str, float], work: Path,
) -> list[JudgedFile]:  # fmt: skip
    """Judge every row; leave the temp tables load_findings, load_quarantine, loading_<export>.

    Views `current_<export>` must exist: the rows accepted by earlier loads. `rules` are the
    files of sql/checks, `tables` those of sql/scratch that they read.
    """
    connection.execute(SCRATCH_TABLES)
    numbers: dict[str, list[int]] = {name: [] for name in EXPORTS}
    for number, source in enumerate(sources, start=1):
        _read_file(connection, number, source, schemas[source.export], work)
        numbers[source.export].append(number)
    for export in schemas.values():
        _combine(connection, export, numbers[export.name])
    make_limits(connection, limits_mm)
    days_from_dates(connection, numbers, sources)
    for export in schemas.values():
        if numbers[export.name]:
            _judge_across(connection, export, rules, ERROR)
            judge_keys(connection, export)
            judge_parents(connection, export)
    make_tables(connection, tables)
    for export in schemas.values():
        if numbers[export.name]:
            _judge_across(connection, export, rules, "warning")
    judged = []
    for number, source in enumerate(sources, start=1):
        _keep_raw(connection, number, source, schemas[source.export], work)
        judged.append(_count(connection, number, source))
    return judged


def _count(connection: Any, number: int, source: SourceFile) -> JudgedFile:
    read = connection.execute(
        f"select count(*) from checked_{source.export}_{number}"
    ).fetchone()[0]
    set_aside = connection.execute(
        "select count(distinct row_number) from load_quarantine where file_number = $number",
        {"number": number},
    ).fetchone()[0]
    return JudgedFile(source, number, read, set_aside, date_regime(connection, number, source))
