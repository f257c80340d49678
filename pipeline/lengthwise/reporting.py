"""Wires a stored run to the documents made from it."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from lengthwise.folder import AuditFolder
from lengthwise.report.documents import KINDS, kind_of

if TYPE_CHECKING:
    from lengthwise.report.pack import Made

Progress = Callable[[str], None]


def render_report(
    folder: AuditFolder, name: str, run_id: str, formats: tuple[str, ...] | None,
    engine: str, progress: Progress,
) -> tuple[Path, ...]:  # fmt: skip
    """Render every document of one kind of a stored run into the folder of its readers."""
    made = _make(folder, run_id, {name: formats}, engine, None, progress)
    return made.files.get(kind_of(name).audience, ())


def render_pack(
    folder: AuditFolder, run_id: str, engine: str, processes: int | None, progress: Progress
) -> "Made":
    """Render every kind of document of a stored run as the period's whole folder."""
    return _make(folder, run_id, dict.fromkeys(KINDS), engine, processes, progress)


def run_of_period(folder: AuditFolder, period: str | None) -> str:
    """Return the id of the newest run, of a period where one is named."""
    from lengthwise.store.runs import latest_run

    return latest_run(folder.database, period)


def _make(
    folder: AuditFolder, run_id: str, wanted: dict[str, tuple[str, ...] | None], engine: str,
    processes: int | None, progress: Progress,
) -> "Made":  # fmt: skip
    from lengthwise.report.pack import make, parts_of
    from lengthwise.report.run_data import load_run

    run_data = load_run(folder.database, run_id)
    return make(
        run_data, folder, parts_of(run_data, folder, wanted), engine=engine,
        processes=processes, progress=progress, is_whole=len(wanted) == len(KINDS),
    )  # fmt: skip
