"""How long `lengthwise --help` takes, against a bare start of the interpreter."""

import os
import statistics
import subprocess
import sys
import time
from typing import Any

TIMES = 9


def started(*command: str) -> tuple[float, float]:
    """Return the median seconds of several starts, and the largest memory of one in GB."""
    spent, peaks = [], []
    for _ in range(TIMES):
        start = time.perf_counter()
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        _, status, usage = os.wait4(process.pid, 0)
        if status:
            raise RuntimeError(f"{command[-1]} ended with status {status}")
        spent.append(time.perf_counter() - start)
        peaks.append(usage.ru_maxrss / 2**20)
    return statistics.median(spent), max(peaks)


def run() -> list[dict[str, Any]]:
    """Return one row per command."""
    bare, peak = started(sys.executable, "-c", "pass")
    rows: list[dict[str, Any]] = [
        {"what": "python -c pass", "seconds": round(bare, 3), "peak_gb": round(peak, 3)}
    ]
    for name in ("--help", "--version"):
        spent, peak = started(sys.executable, "-m", "lengthwise", name)
        rows.append(
            {
                "what": f"lengthwise {name}",
                "seconds": round(spent, 3),
                "ratio": round(spent / bare, 1),
                "peak_gb": round(peak, 3),
            }
        )
    return rows
