"""A part of an analysis in a second process, where there is enough to do for two."""

from collections.abc import Callable, Iterator
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from functools import partial
from typing import Any

from lengthwise.analyse.rows import ResultRows
from lengthwise.errors import AnalysisError
from lengthwise.processes import cores, process_pool

# With fewer readings a process takes longer to start than it saves.
MANY_READINGS = 500_000
PRELOADED = "lengthwise.analyse.comparisons_of_methods"
# From a function and its arguments to the function that gives its rows.
Start = Callable[..., Callable[[], ResultRows]]


@contextmanager
def second_process(n_readings: int) -> Iterator[Start]:
    """Yield what starts work beside this process, or keeps it until its rows are asked for.

    Raises
    ------
    AnalysisError
        The second process ended before its work was done.
    """
    if n_readings < MANY_READINGS or cores() < 2:
        yield partial
        return
    with process_pool(1, PRELOADED) as pool:

        def start(work: Callable[..., ResultRows], *given: Any) -> Callable[[], ResultRows]:
            return pool.submit(work, *given).result

        try:
            yield start
        except BrokenProcessPool:
            raise AnalysisError(
                "The analysis's second process ended before it was done; free memory and run "
                "the command again."
            ) from None
