"""Wires ingest, check and store: from the files of a folder to a stored load or to findings."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import pandas as pd

from lengthwise.check.identifiers import require_no_identifiers
from lengthwise.check.judge import JudgedFile, judge
from lengthwise.check.row_numbers import own_row_numbers
from lengthwise.dictionary import all_schemas
from lengthwise.folder import AuditFolder
from lengthwise.ingest.folder import find_files
from lengthwise.ingest.mapping import load_mapping
from lengthwise.ingest.source import SourceFile, open_source
from lengthwise.ingest.tables import tables_of
from lengthwise.quality.measures import Quality, measure
from lengthwise.scratch import scratch_folder
from lengthwise.settings import load_settings
from lengthwise.store.changes import corrected_since
from lengthwise.store.database import Connection, attach, connect, plain_errors, work_within
from lengthwise.store.load import LoadOutcome, known_hashes, store_load
from lengthwise.store.quarantine import announce_rows, write_announced
from lengthwise.store.queries import known_codes, query, sql_files
from lengthwise.store.tables import current_views, ensure_tables

__all__ = ["check_files", "ingest_files", "known_codes"]
Progress = Callable[[str], None]


def silent(_: str) -> None:
    """Take a progress message and do nothing."""


@dataclass(frozen=True, slots=True)
class IntakeResult:
    """What was read, what was set aside and why.

    `corrected_since` says of an unchanged file which load corrected rows of it last.
    """

    judged: tuple[JudgedFile, ...]
    findings: pd.DataFrame
    unchanged_files: tuple[str, ...]
    load: LoadOutcome | None
    quarantine_files: tuple[Path, ...]
    quality: Quality = field(default_factory=Quality)
    corrected_since: dict[str, int] = field(default_factory=dict)

    @property
    def rows_quarantined(self) -> int:
        """Return the number of rows set aside."""
        return sum(item.rows_quarantined for item in self.judged)


def _sources(
    paths: list[Path],
    folder: AuditFolder,
    overrides: dict[str, str],
    known: set[str],
    work: Path,
) -> tuple[list[SourceFile], list[SourceFile]]:
    settings = load_settings(folder.root)
    schemas = all_schemas(settings.extensions)
    mapping = load_mapping(folder.mapping, overrides)
    fresh: list[SourceFile] = []
    unchanged: list[SourceFile] = []
    for table in (table for path in paths for table in tables_of(path, mapping, work)):
        source = open_source(table.path, table.rule, schemas[table.rule.export], work)
        source = replace(source, row_numbers=table.row_numbers, misshapen=table.misshapen)
        seen = known | {item.sha256 for item in fresh}
        if source.sha256 in seen:
            unchanged.append(source)
        else:
            fresh.append(source)
    return fresh, unchanged


def _judge(
    connection: Connection, sources: list[SourceFile], folder: AuditFolder, work: Path,
    catalogue: str = "",
) -> list[JudgedFile]:  # fmt: skip
    settings = load_settings(folder.root)
    schemas = all_schemas(settings.extensions)
    limits_mm = {
        "review_mm": settings.thresholds.review_mm,
        "tolerance_mm": settings.thresholds.tolerance_mm,
    }
    current_views(connection, catalogue)
    with plain_errors("checking the files"):
        judged = judge(
            connection, sources, schemas, sql_files("checks"), sql_files("scratch"), limits_mm,
            work,
        )  # fmt: skip
        require_no_identifiers(connection, judged, schemas, work)
        own_row_numbers(connection, judged)
    return judged


def _findings(connection: Connection, judged: list[JudgedFile]) -> pd.DataFrame:
    frame = connection.execute(query("queries", "load_findings").text).df()
    names = {item.file_number: item.source.name for item in judged}
    frame["file"] = frame["file_number"].map(names).astype(str)
    return frame


def check_files(
    folder: AuditFolder,
    paths: list[Path],
    overrides: dict[str, str],
    progress: Progress = silent,
) -> IntakeResult:
    """Judge files without storing anything; rows already stored count as parents."""
    with scratch_folder() as work:
        progress("reading the files")
        sources, _ = _sources(
            paths or find_files(folder.exports), folder, overrides, set(), work
        )
        connection = connect(None)
        try:
            work_within(connection, work)
            ensure_tables(connection)
            stored = attach(connection, folder.database)
            progress("checking every row")
            judged = _judge(connection, sources, folder, work, stored)
            schemas = all_schemas(load_settings(folder.root).extensions)
            with plain_errors("counting what was read"):
                quality = measure(connection, judged, schemas)
            return IntakeResult(
                tuple(judged), _findings(connection, judged), (), None, (), quality
            )
        finally:
            connection.close()


def ingest_files(
    folder: AuditFolder,
    paths: list[Path],
    overrides: dict[str, str],
    progress: Progress = silent,
) -> IntakeResult:
    """Judge and store files; a file that is already loaded changes nothing."""
    with scratch_folder() as work:
        connection = connect(folder.database)
        try:
            with plain_errors("preparing the database"):
                work_within(connection, work)
                ensure_tables(connection)
                left = write_announced(connection, folder.quarantine)
            progress("reading the files")
            sources, unchanged = _sources(
                paths or find_files(folder.exports),
                folder, overrides, known_hashes(connection), work,
            )  # fmt: skip
            names = tuple(item.name for item in unchanged)
            with plain_errors("looking up earlier loads"):
                since = {
                    item.name: load
                    for item in unchanged
                    if (load := corrected_since(connection, item.sha256))
                }
            if not sources:
                return IntakeResult(
                    (), pd.DataFrame(), names, None, tuple(left), corrected_since=since
                )
            progress("checking every row")
            judged = _judge(connection, sources, folder, work)
            findings = _findings(connection, judged)
            progress("storing")
            schemas = all_schemas(load_settings(folder.root).extensions)
            announce_rows(connection, folder.quarantine)
            load = store_load(connection, judged, schemas)
            written = [*left, *write_announced(connection, folder.quarantine)]
            return IntakeResult(
                tuple(judged), findings, names, load, tuple(written), corrected_since=since
            )
        finally:
            connection.close()
