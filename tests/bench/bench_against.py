"""Each agreement and outcome analysis at 1 thousand to 1 million canals, against statsmodels.

Each analysis has a process of its own: ours at every size first, whose peak of memory is read
before the counterpart starts, then the counterpart at the sizes where it should end within a
minute, by its seconds at the sizes before. The exponent is the slope of log seconds on log canals
against the size before, 1 being linear; seconds are those of the processor. The difference is the largest relative one of what both
estimate. `python -m tests.bench.bench_against PLACE` measures one analysis.
"""

import json
import math
import os
import resource
import subprocess
import sys
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent)]

from bench.against_agreement import PAIRS as AGREEMENT  # noqa: E402  the path comes first
from bench.against_outcome import PAIRS as OUTCOME  # noqa: E402
from bench.against_pairs import Numbers, Pair, largest_difference  # noqa: E402
from bench.bench_agreement import timed  # noqa: E402

PAIRS = (*AGREEMENT, *OUTCOME)
SIZES = (1_000, 10_000, 100_000, 1_000_000)
PATIENCE_SECONDS = 60
REPEATED_BELOW_SECONDS = 1


def seconds_of(call: Any, rows: Any) -> tuple[float, Numbers]:
    """Return the processor's seconds of a call, the least of three where it is quick."""
    taken, found = timed(lambda: call(rows))
    least = taken.processor
    for _ in range(2 if least < REPEATED_BELOW_SECONDS else 0):
        least = min(least, timed(lambda: call(rows))[0].processor)
    return least, found


def exponent(sizes: list[int], seconds: list[float]) -> float:
    """Return the growth of seconds from the last size but one to the last."""
    if len(seconds) < 2:
        return math.nan
    return math.log(seconds[-1] / seconds[-2]) / math.log(sizes[-1] / sizes[-2])


def ours(pair: Pair) -> list[dict[str, Any]]:
    """Return our seconds at each size, with their growth and the peak of memory so far."""
    pair.ours(pair.rows(SIZES[0]))  # what is loaded by the first call is not timed
    rows, taken = [], []
    for n in (size for size in SIZES if size <= pair.up_to):
        seconds, found = seconds_of(pair.ours, pair.rows(n))
        taken.append(seconds)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
        rows.append(
            {"canals": n, "ours_s": seconds, "peak_gb": peak, "found": [float(one) for one in found],
             "exponent": exponent(list(SIZES[: len(taken)]), taken)}
        )  # fmt: skip
    return rows


def add_theirs(pair: Pair, rows: list[dict[str, Any]]) -> None:
    """Add the counterpart's seconds where it should end in time, and how far both differ."""
    if pair.theirs is None:
        return
    pair.theirs(pair.rows(SIZES[0]))
    taken: list[float] = []
    for row in rows:
        growth = max(exponent(list(SIZES[: len(taken)]), taken), 1.0) if taken[1:] else 1.0
        expected = taken[-1] * 10**growth if taken else 0.0
        if expected > PATIENCE_SECONDS:
            row["left_out"] = expected
            return
        with warnings.catch_warnings():
            # What its optimisers say on the way is not ours to judge; the numbers are compared.
            warnings.simplefilter("ignore")
            seconds, other = seconds_of(pair.theirs, pair.rows(row["canals"]))
        taken.append(seconds)
        row["theirs_s"] = seconds
        row["difference"] = largest_difference(row["found"], other)


def measured(place: int) -> list[dict[str, Any]]:
    """Return one analysis from a fresh process."""
    command = [sys.executable, str(Path(__file__).resolve()), str(place)]
    # Threads of the algebra library would count as work of both.
    one_thread = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=one_thread)
    if done.returncode:
        raise RuntimeError(f"{PAIRS[place].what}: {done.stderr[-2000:]}")
    found: list[dict[str, Any]] = json.loads(done.stdout.splitlines()[-1])
    return found


def shown(pair: Pair, row: dict[str, Any]) -> dict[str, Any]:
    """Return the columns of one size as they are printed."""
    cells = {
        "id": pair.method_id, "what": f"{pair.what:28}", "canals": f"{row['canals']:>9,}",
        "ours_s": f"{row['ours_s']:.4f}",
    }  # fmt: skip
    if "theirs_s" in row:
        cells |= {
            "statsmodels_s": f"{row['theirs_s']:.4f}",
            "ratio": f"{row['theirs_s'] / row['ours_s']:.3g}",
        }
    elif pair.theirs:
        why = f"left out, about {row['left_out']:.0f} s" if "left_out" in row else "left out"
        cells["statsmodels_s"] = why
    if math.isfinite(row["exponent"]):
        cells["exponent"] = f"{row['exponent']:.2f}"
    cells["peak_gb"] = f"{row['peak_gb']:.2f}"
    if "difference" in row:
        cells["difference"] = f"{row['difference']:.0e}"
    return cells | {"counterpart": pair.counterpart}


def run() -> Iterator[dict[str, Any]]:
    """Yield one row per analysis and size as it comes."""
    for place, pair in enumerate(PAIRS):
        for row in measured(place):
            yield shown(pair, row)


if __name__ == "__main__":
    found_rows = ours(PAIRS[int(sys.argv[1])])
    add_theirs(PAIRS[int(sys.argv[1])], found_rows)
    print(json.dumps(found_rows))
