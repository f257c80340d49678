"""The documents of a period made together: rendered apart, sorted by who may read them."""

import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from lengthwise.folder import AuditFolder
from lengthwise.processes import cores
from lengthwise.report.documents import INTERNAL, Document, Kind, chosen_formats, kind_of
from lengthwise.report.pack_manifest import engine_name, write_manifest
from lengthwise.report.render import chosen_engine
from lengthwise.report.run_data import RunData
from lengthwise.report.snapshot import write_snapshot
from lengthwise.report.stage import hidden, move_into, replace_whole
from lengthwise.report.workers import Job, render_all
from lengthwise.resources import resource

WORK = ".work"
Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Part:
    """The documents of one kind, and the formats they are made in."""

    kind: Kind
    formats: tuple[str, ...]
    documents: tuple[Document, ...]


@dataclass(frozen=True, slots=True)
class Made:
    """What was rendered: files by audience, and the number of documents by kind."""

    place: Path
    files: dict[str, tuple[Path, ...]]
    documents: dict[str, int]


def parts_of(
    run_data: RunData, folder: AuditFolder, wanted: Mapping[str, tuple[str, ...] | None]
) -> list[Part]:
    """Return the work of each kind that is wanted; None stands for all its formats."""
    parts = []
    for name, formats in wanted.items():
        kind = kind_of(name)
        chosen = chosen_formats(kind, formats)
        parts.append(Part(kind, chosen, tuple(kind.documents(run_data, folder))))
    return parts


def make(
    run_data: RunData, folder: AuditFolder, parts: list[Part], *, engine: str,
    processes: int | None, progress: Progress, is_whole: bool,
) -> Made:  # fmt: skip
    """Render the parts; files reach their place only when every document is done.

    Parameters
    ----------
    is_whole : bool
        The parts are all there is of the period and take the whole folder's place; else
        their files join what lies there.
    """
    used = chosen_engine(engine)
    place = folder.reports(str(run_data.run["period"])).parent
    with hidden(place.parent, place.name) as stage:
        _render(stage, parts, used, processes or cores(), progress)
        _write_apart(stage, parts, folder)
        names = _names(stage)
        if not is_whole:
            move_into(stage, place)
        _write_manifests(stage if is_whole else place, names, run_data, parts, used)
        if is_whole:
            replace_whole(stage, place)
    files = {key: tuple(place / key / name for name in found) for key, found in names.items()}
    return Made(place, files, {part.kind.name: len(part.documents) for part in parts})


def _render(
    stage: Path, parts: list[Part], engine: str, processes: int, progress: Progress
) -> None:
    work = stage / WORK
    work.mkdir()
    jobs = [
        _job(stage, work, part, document, engine)
        for part in parts
        for document in part.documents
    ]

    def done(job: Job, count: int) -> None:
        progress(f"rendered {count} of {len(jobs)} documents ({job.kind})")

    progress(f"rendering {len(jobs)} documents, up to {min(processes, len(jobs))} at once")
    render_all(jobs, processes, done)
    shutil.rmtree(work)


def _job(stage: Path, work: Path, part: Part, document: Document, engine: str) -> Job:
    stored = write_snapshot(document.run_data, work / f"{part.kind.name}-{document.name}.json")
    return Job(
        part.kind.name, resource("reports", part.kind.source), stored,
        str(document.run_data.run["run_id"]), part.formats, stage / part.kind.audience,
        document.name, engine, work,
    )  # fmt: skip


def _write_apart(stage: Path, parts: list[Part], folder: AuditFolder) -> None:
    """Write what belongs to documents and must not lie beside them, with the internal ones."""
    for part in (part for part in parts if part.documents):
        for name, text in part.kind.apart(list(part.documents), folder).items():
            target = stage / INTERNAL / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(text, encoding="utf-8")


def _names(stage: Path) -> dict[str, list[str]]:
    """Return the names of the files made, by audience."""
    folders = sorted(path for path in stage.iterdir() if path.is_dir())
    return {item.name: sorted(path.name for path in item.iterdir()) for item in folders}


def _write_manifests(
    place: Path, names: dict[str, list[str]], run_data: RunData, parts: list[Part], engine: str
) -> None:
    runs = {
        part.kind.audience: part.documents[0].run_data.run for part in parts if part.documents
    }
    runs[INTERNAL] = run_data.run
    for audience, found in names.items():
        write_manifest(place / audience, found, runs[audience], engine_name(engine))
