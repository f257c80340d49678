"""How long `lengthwise --help` takes, against a bare start of the interpreter."""

import statistics
import subprocess
import sys
import time
from typing import Any

TIMES = 9


def seconds(*command: str) -> float:
    """Return the median of several starts."""
    spent = []
    for _ in range(TIMES):
        start = time.perf_counter()
        subprocess.run(command, capture_output=True, check=True)
        spent.append(time.perf_counter() - start)
    return statistics.median(spent)


def run() -> list[dict[str, Any]]:
    """Return one row per command."""
    bare = seconds(sys.executable, "-c", "pass")
    rows: list[dict[str, Any]] = [{"what": "python -c pass", "seconds": round(bare, 3)}]
    for name in ("--help", "--version"):
        spent = seconds(sys.executable, "-m", "lengthwise", name)
        rows.append(
            {
                "what": f"lengthwise {name}",
                "seconds": round(spent, 3),
                "ratio": round(spent / bare, 1),
            }
        )
    return rows
