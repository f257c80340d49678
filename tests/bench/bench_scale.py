"""Deriving tables and each analysis, from the demo's 4 thousand canals to a million.

The demo's stored rows are copied, each copy with patients and treatments of its own, so that
clusters stay as they are. A size runs in a process of its own; the growth exponent is the
slope of log seconds on log canals over the last step, 1 being linear.
"""

import itertools
import json
import math
import resource
import subprocess
import sys
import tempfile
import time
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
    steps: dict[str, float] = {}
    for (name, start), (_, end) in itertools.pairwise(marks):
        steps[name] = steps.get(name, 0.0) + end - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    return {"canals": canals, "steps": steps, "peak_gb": peak}


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
        steps = {**found["steps"], "everything": sum(found["steps"].values())}
        for name, seconds in steps.items():
            row = {"canals": found["canals"], "step": name, "seconds": round(seconds, 2)}
            if earlier and name in earlier["steps"]:
                growth = math.log(seconds / earlier["steps"][name])
                row["exponent"] = round(
                    growth / math.log(found["canals"] / earlier["canals"]), 2
                )
            if name == "everything":
                row["peak_gb"] = round(found["peak_gb"], 2)
            rows.append(row)
        earlier = {"canals": found["canals"], "steps": steps}
    return rows


if __name__ == "__main__":
    print(json.dumps(one_size(int(sys.argv[1]))))
