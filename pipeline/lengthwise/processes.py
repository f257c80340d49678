"""Work in processes beside the command's own, which end with it."""

import multiprocessing
import os
import threading
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager


def cores() -> int:
    """Return how many processes can run at once on this machine."""
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return os.cpu_count() or 1


@contextmanager
def process_pool(processes: int, preloaded: str) -> Iterator[ProcessPoolExecutor]:
    """Yield a pool in which each piece of work gets a process of its own.

    Where the system can, processes are split off from one that has loaded the module
    `preloaded`.
    """
    methods = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("forkserver" if "forkserver" in methods else "spawn")
    if "forkserver" in methods:
        context.set_forkserver_preload([preloaded])
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
