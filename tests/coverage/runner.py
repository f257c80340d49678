"""Runs the unfinished cells of a study over processes and keeps each finished one at once."""

import os
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

from .studies import STUDIES
from .study import Cell, Study, generator_of, text_of
from .table import Row, read, row_of, write

RESULTS = Path(__file__).resolve().parent / "results"


def tried_cell(study_name: str, cell: Cell, simulations: int) -> list[Row]:
    """Return the rows of one cell; runs in a process of its own, found by name."""
    study = STUDIES[study_name]
    found = study.simulate(cell, simulations, generator_of(study, cell))
    return [row_of(study, cell, one) for one in found]


def run_study(
    study: Study, *, folder: Path = RESULTS, simulations: int = 0, workers: int = 0,
    is_fresh: bool = False, say: Callable[[str], None] = print,
) -> list[Row]:  # fmt: skip
    """Return the table of `study` after trying every cell that is not yet in its file.

    A cell counts as finished when the file has it with as many simulations or more.
    """
    wanted = simulations or study.simulations
    path = folder / f"{study.name}.csv"
    order = [text_of(cell) for cell in study.cells()]
    done = _finished(path, set(order), wanted)
    # Rows of an earlier run stay until their cell is tried again: the table is always whole.
    waiting = [cell for cell in study.cells() if is_fresh or text_of(cell) not in done]
    say(f"{study.name}: {len(order)} cells, {len(order) - len(waiting)} finished before")
    started = time.monotonic()
    for count, (cell, rows) in enumerate(_tried(study, waiting, wanted, workers), start=1):
        done[text_of(cell)] = rows
        write(path, _in_order(done, order))
        passed = time.monotonic() - started
        left = passed / count * (len(waiting) - count)
        say(
            f"{study.name}: {count}/{len(waiting)}, {passed:.0f} s, {left:.0f} s to go; {text_of(cell)}"
        )
    return _in_order(done, order)


def _finished(path: Path, known: set[str], wanted: int) -> dict[str, list[Row]]:
    done: dict[str, list[Row]] = {}
    for row in read(path):
        if row["grid"] in known and int(row["n_simulations"]) >= wanted:
            done.setdefault(row["grid"], []).append(row)
    return done


def _in_order(done: dict[str, list[Row]], order: list[str]) -> list[Row]:
    return [row for text in order for row in done.get(text, [])]


def _tried(
    study: Study, cells: list[Cell], simulations: int, workers: int
) -> Iterator[tuple[Cell, list[Row]]]:
    count = workers or os.cpu_count() or 1
    if count == 1 or len(cells) < 2:
        for cell in cells:
            yield cell, tried_cell(study.name, cell, simulations)
        return
    with ProcessPoolExecutor(max_workers=count) as pool:
        jobs = {pool.submit(tried_cell, study.name, cell, simulations): cell for cell in cells}
        for job in as_completed(jobs):
            yield jobs[job], job.result()
