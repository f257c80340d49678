"""Renders several documents at once, each in a fresh process and a fresh folder."""

import multiprocessing
import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from lengthwise.errors import ReportError

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


def cores() -> int:
    """Return how many processes can run at once on this machine."""
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return os.cpu_count() or 1


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
    with _pool(min(processes, len(jobs)) or 1) as pool:
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


@contextmanager
def _pool(processes: int) -> Iterator[ProcessPoolExecutor]:
    """Yield the pool; each document gets a process of its own.

    Where the system can, processes are split off from one that has loaded the libraries.
    """
    methods = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("forkserver" if "forkserver" in methods else "spawn")
    if "forkserver" in methods:
        context.set_forkserver_preload([PRELOADED])
    pool = ProcessPoolExecutor(
        processes, mp_context=context, max_tasks_per_child=1, initializer=_end_with_the_command
    )
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _end_with_the_command() -> None:
    """Let this process end when the command that started it is killed.

    It would wait for work for ever, or go on to write into a folder that is no longer wanted.
    """
    threading.Thread(target=_wait_and_end, daemon=True).start()


def _wait_and_end() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
