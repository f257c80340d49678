"""One function per command; wires the stages and holds no logic of its own."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lengthwise.errors import AnalysisError, UnreadableError
from lengthwise.folder import AuditFolder
from lengthwise.intake import IntakeResult, check_files, ingest_files, known_codes, silent
from lengthwise.periods import Quarter, parse_quarter, quarter_of
from lengthwise.resources import resource
from lengthwise.settings import Settings, load_settings

if TYPE_CHECKING:
    from lengthwise.analyse.plan import Wish
    from lengthwise.report.pack import Made
    from lengthwise.store.database import Connection

Progress = Callable[[str], None]
__all__ = ["check_files", "ingest_files", "known_codes"]


@dataclass(frozen=True, slots=True)
class QuarterResult:
    """What one quarter's work left: the load, the run, and where the reports are."""

    intake: IntakeResult
    run_id: str
    headlines: tuple[str, ...]
    pack: "Made"


def new_folder(target: Path) -> AuditFolder:
    """Make an audit folder with empty CSV templates and commented settings.

    Raises
    ------
    UnreadableError
        The folder already holds an audit.
    """
    folder = AuditFolder(target)
    if (target / "settings.toml").exists():
        raise UnreadableError(f"{target.name}: this is already an audit folder; choose another")
    from lengthwise.templates import write_templates

    folder.exports.mkdir(parents=True, exist_ok=True)
    write_templates(folder)
    return folder


def demo_folder(target: Path) -> AuditFolder:
    """Make (or keep) an audit folder with the demo exports and the demo's settings."""
    folder = AuditFolder(target)
    if not (target / "settings.toml").exists():
        new_folder(target)
    for source in sorted(resource("demo_dataset", "exports").glob("*.csv")):
        shutil.copyfile(source, folder.exports / source.name)
    for name in ("settings.toml", "actions.toml"):
        shutil.copyfile(resource("demo_dataset", "folder", name), target / name)
    return folder


def _quarter(folder: AuditFolder, period: str | None) -> Quarter:
    from lengthwise.store.database import connect
    from lengthwise.store.queries import query

    if period:
        try:
            return parse_quarter(period)
        except ValueError as error:
            raise AnalysisError(f"the period is not a quarter: {error}") from None
    connection = connect(folder.database, read_only=True)
    try:
        row = connection.execute(query("queries", "latest_period").text).fetchone()
    finally:
        connection.close()
    if row is None or row[0] is None:
        raise AnalysisError("no treatment is stored yet; run lengthwise ingest first")
    return parse_quarter(row[0])


def analyse_period(folder: AuditFolder, period: str | None, progress: Progress = silent) -> str:
    """Derive and compute one quarter; return the run's id."""
    from lengthwise.analyse.everything import analyse
    from lengthwise.derive.build import build
    from lengthwise.store.database import connect
    from lengthwise.store.tables import ensure_tables

    settings = load_settings(folder.root)
    quarter = _quarter(folder, period)
    connection = connect(folder.database)
    try:
        ensure_tables(connection)
        progress("deriving tables")
        build(connection, settings, quarter)
        return analyse(connection, settings, quarter, progress)
    finally:
        connection.close()


def headlines(folder: AuditFolder, run_id: str) -> tuple[str, ...]:
    """Return the headline sentences of a run."""
    from lengthwise.report.run_data import load_run
    from lengthwise.report.sections.messages import messages

    return tuple(message.lead for message in messages(load_run(folder.database, run_id)))


def whole_quarter(
    folder: AuditFolder, period: str | None, overrides: dict[str, str],
    progress: Progress = silent,
) -> QuarterResult:  # fmt: skip
    """Check, load what is new, derive, analyse and render one quarter."""
    from lengthwise.reporting import render_pack

    intake = ingest_files(folder, [], overrides, progress)
    run_id = analyse_period(folder, period, progress)
    pack = render_pack(folder, run_id, "auto", None, progress)
    return QuarterResult(intake, run_id, headlines(folder, run_id), pack)


def reviews_due(
    folder: AuditFolder, by_month: str | None, discontinued: Path | None, out: Path | None,
    progress: Progress = silent,
) -> str:  # fmt: skip
    """Return who is due for review in words; write the list of keys where a file is given."""
    from lengthwise.analyse.due import last_day_of, printed, read_keys, write_list
    from lengthwise.analyse.due import reviews_due as find_reviews

    quarter = quarter_of(last_day_of(by_month)) if by_month else _quarter(folder, None)
    keys = read_keys(discontinued) if discontinued else set()
    with _derived(folder, quarter, progress) as (connection, settings):
        found = find_reviews(connection, settings, by_month or quarter.last_month, keys)
    if out is not None:
        write_list(found, out)
    return printed(found)


def plan(folder: AuditFolder, wish: "Wish", measure: str) -> list[str]:
    """Return how many cases a wish needs, from the practice's own record where there is one."""
    from lengthwise.analyse import plan as planned

    if not folder.database.exists():
        return planned.answer(wish, None)
    quarter = _quarter(folder, None)
    with _derived(folder, quarter, silent) as (connection, settings):
        present = planned.present_of(connection, settings, wish.aim, measure, quarter)
    return planned.answer(wish, present)


@contextmanager
def _derived(
    folder: AuditFolder, quarter: Quarter, progress: Progress
) -> Iterator[tuple["Connection", Settings]]:
    """Open the database with every table derived up to a quarter."""
    from lengthwise.derive.build import build
    from lengthwise.store.database import connect
    from lengthwise.store.tables import ensure_tables

    settings = load_settings(folder.root)
    connection = connect(folder.database)
    try:
        ensure_tables(connection)
        progress("deriving tables")
        build(connection, settings, quarter)
        yield connection, settings
    finally:
        connection.close()
