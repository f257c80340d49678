"""Deriving tables and each analysis, from the demo's 4 thousand canals to a million.

The demo's stored rows are copied, each copy with patients and treatments of its own, so that
clusters stay as they are. A size runs in a process of its own; the growth exponent is the
slope of log seconds on log canals over the last step, 1 being linear. First the whole command
runs; then all analyses of agreement and outcome alone, from the derived tables to their result
rows, with the seconds of their bootstraps beside. With many readings a second process takes
part of the work; its peak of memory comes on top.
"""

import itertools
import json
import math
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import duckdb

COPIES = (1, 10, 60, 240)
TABLES = ("treatments", "canals", "readings", "fills", "follow_ups", "incidents")
KEYS = ("treatment_id", "patient_id")


def copy_rows(database: Path, copies: int) -> int:
    """Multiply the stored rows; return the number of canals."""
    connection = duckdb.connect(str(database))
    connection.execute("set enable_progress_bar = false")
    for table in TABLES:
        names = [row[0] for row in connection.execute(f"describe record.{table}").fetchall()]
        shown = ", ".join(
            f"{name} || '-' || copy as {name}" if name in KEYS else name for name in names
        )
        connection.execute(
            f"insert into record.{table} "
            f"select {shown} from record.{table}, range(1, {copies}) as numbers (copy)"
        )
    (row,) = connection.execute("select count(*) from record.canals").fetchall()
    connection.close()
    return int(row[0])


def timed_bootstraps() -> dict[str, float]:
    """Return where the seconds spent in bootstraps will be added up, in this process."""
    from lengthwise.statistics.agreement import method_ranking
    from lengthwise.statistics.outcome import turnbull_bootstrap

    spent = {"seconds": 0.0}
    for module, name in ((method_ranking, "cluster_bootstrap"), (turnbull_bootstrap, "_draws")):
        setattr(module, name, _counted(getattr(module, name), spent))
    return spent


def _counted(function: Callable[..., Any], spent: dict[str, float]) -> Callable[..., Any]:
    def counted(*given: Any, **named: Any) -> Any:
        start = time.perf_counter()
        found = function(*given, **named)
        spent["seconds"] += time.perf_counter() - start
        return found

    return counted


def compared_with_peak(*given: Any) -> tuple[Any, float]:
    """Return comparisons of methods and the peak of memory of the process they ran in."""
    from lengthwise.analyse.comparisons_of_methods import comparisons_of_methods

    rows = comparisons_of_methods(*given)
    return rows, peak_gb()


def peak_gb() -> float:
    """Return the largest memory this process has held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20


def agreement_and_outcome(folder: Any) -> dict[str, Any]:
    """Return the seconds of every agreement and outcome id, from derived tables to rows."""
    from lengthwise.analyse import everything as whole
    from lengthwise.periods import window
    from lengthwise.settings import load_settings
    from lengthwise.store import results
    from lengthwise.store.database import connect

    spent = timed_bootstraps()
    settings, connection = load_settings(folder.root), connect(folder.database)
    known = results.quarters(connection)
    period = window(known[0], known[-1])
    start = time.perf_counter()
    frames = whole.coded_marts(connection, whole._MARTS)
    pairs, readings = frames["length_pairs"], frames["reading_conditions"]
    rows = whole.ResultRows()
    with whole.second_process(len(readings)) as beside:
        needed = whole.needed(pairs, readings)
        others = beside(compared_with_peak, *needed, period, settings)
        whole.analyse_agreement(rows, pairs, period, settings)
        whole.analyse_agreement_depth(rows, frames, known[-1], period, settings)
        outcomes, fills = frames["outcomes"], frames["fills"]
        whole.analyse_outcomes(rows, outcomes, period, settings, frames["tooth_times"], fills)
        whole.analyse_chain(rows, pairs, readings, fills, period, settings)
        compared, second_gb = others()
        rows.extend(compared)
    seconds = time.perf_counter() - start
    connection.close()
    ids = {row["analysis"] for row in rows.estimates}
    return {
        "seconds": seconds, "bootstraps": spent["seconds"], "ids": len(ids),
        "second_gb": second_gb,
    }  # fmt: skip


def one_size(copies: int) -> dict[str, Any]:
    """Return seconds by step and the peak of memory for one size."""
    from lengthwise import run

    with tempfile.TemporaryDirectory() as scratch:
        folder = run.demo_folder(Path(scratch) / "audit")
        run.ingest_files(folder, [], {})
        canals = copy_rows(folder.database, copies)
        marks: list[tuple[str, float]] = []
        run.analyse_period(folder, None, lambda step: marks.append((step, time.perf_counter())))
        marks.append(("", time.perf_counter()))
        alone = agreement_and_outcome(folder)
    steps: dict[str, float] = {}
    for (name, start), (_, end) in itertools.pairwise(marks):
        steps[name] = steps.get(name, 0.0) + end - start
    return {"canals": canals, "steps": steps, "alone": alone, "peak_gb": peak_gb()}


def measured(copies: int) -> dict[str, Any]:
    """Return one size from a fresh process, whose peak is its own."""
    command = [sys.executable, str(Path(__file__).resolve()), str(copies)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def run() -> list[dict[str, Any]]:
    """Return one row per size and step."""
    rows: list[dict[str, Any]] = []
    earlier: dict[str, Any] | None = None
    for copies in COPIES:
        found = measured(copies)
        steps = {"agreement and outcome alone": found["alone"]["seconds"], **found["steps"]}
        steps["whole command"] = sum(found["steps"].values())
        for name, seconds in steps.items():
            row = {"canals": found["canals"], "step": name, "seconds": round(seconds, 2)}
            if earlier and name in earlier["steps"]:
                growth = math.log(seconds / earlier["steps"][name])
                row["exponent"] = round(
                    growth / math.log(found["canals"] / earlier["canals"]), 2
                )
            if name == "agreement and outcome alone":
                row["of_it_bootstraps"] = round(found["alone"]["bootstraps"], 2)
                row["ids"] = found["alone"]["ids"]
            if name == "whole command":
                row["peak_gb"] = round(found["peak_gb"], 2)
                row["second_process_gb"] = round(found["alone"]["second_gb"], 2)
            rows.append(row)
        earlier = {"canals": found["canals"], "steps": steps}
    return rows


if __name__ == "__main__":
    print(json.dumps(one_size(int(sys.argv[1]))))
