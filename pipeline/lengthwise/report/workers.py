"""Renders several documents at once, each in a fresh process and a fresh folder."""

from collections.abc import Callable
from concurrent.futures import Future, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path

from lengthwise.errors import ReportError
from lengthwise.processes import process_pool

PRELOADED = "lengthwise.report.preloaded"


@dataclass(frozen=True, slots=True)
class Job:
    """One document to render.

    Attributes
    ----------
    source : Path
        The .qmd.
    stored : Path
        The snapshot that holds all the document may know; removed when it is rendered.
    target : Path
        Folder of its files.
    work : Path
        Folder in which the fresh folder is made.
    """

    kind: str
    source: Path
    stored: Path
    run_id: str
    formats: tuple[str, ...]
    target: Path
    name: str
    engine: str
    work: Path


def render_job(job: Job) -> list[Path]:
    """Render one document; the process is for it alone."""
    from lengthwise.report.render import render

    try:
        return render(
            job.source, job.formats, {"database": job.stored, "run": job.run_id}, job.target,
            job.name, engine=job.engine, work_dir=job.work, is_alone=True,
        )  # fmt: skip
    finally:
        job.stored.unlink(missing_ok=True)


def render_all(jobs: list[Job], processes: int, done: Callable[[Job, int], None]) -> None:
    """Render every job; the first that fails stops the rest.

    Parameters
    ----------
    done : function
        Called after each document with its job and the number of documents done.

    Raises
    ------
    ReportError
        A document could not be rendered, or its process ended.
    """
    with process_pool(min(processes, len(jobs)) or 1, PRELOADED) as pool:
        waiting: dict[Future[list[Path]], Job] = {
            pool.submit(render_job, job): job for job in jobs
        }
        try:
            for count, future in enumerate(as_completed(waiting), start=1):
                future.result()
                done(waiting[future], count)
        except BrokenProcessPool:
            raise ReportError(
                "A report's process ended before the report was done; free memory, or try "
                "again with --jobs 1."
            ) from None
