"""Wires a stored run to the documents made from it."""

import tempfile
from collections.abc import Callable
from pathlib import Path

from lengthwise.folder import AuditFolder
from lengthwise.report.documents import Document, Kind, chosen_formats, kind_of
from lengthwise.resources import resource

Progress = Callable[[str], None]


def render_report(
    folder: AuditFolder, name: str, run_id: str, formats: tuple[str, ...] | None,
    engine: str, progress: Progress,
) -> tuple[Path, ...]:  # fmt: skip
    """Render every document of one kind of a stored run into the folder of its readers."""
    from lengthwise.report.run_data import load_run

    kind = kind_of(name)
    wanted = chosen_formats(kind, formats)
    run_data = load_run(folder.database, run_id)
    target = folder.reports(str(run_data.run["period"]), kind.audience)
    documents = kind.documents(run_data, folder)
    made: list[Path] = []
    for place, document in enumerate(documents, start=1):
        progress(f"rendering {kind.name}, {place} of {len(documents)}")
        made += render_document(kind, document, wanted, target, engine)
    return tuple(made)


def render_document(
    kind: Kind, document: Document, formats: tuple[str, ...], target: Path, engine: str
) -> list[Path]:
    """Render one document from a file that holds no more than it may know."""
    from lengthwise.report.render import render
    from lengthwise.report.snapshot import write_snapshot

    with tempfile.TemporaryDirectory(prefix="lengthwise-run-") as temporary:
        stored = write_snapshot(document.run_data, Path(temporary) / "run.json")
        return render(
            resource("reports", kind.source), formats,
            {"database": stored, "run": document.run_data.run["run_id"]},
            target, document.name, engine=engine,
        )  # fmt: skip
