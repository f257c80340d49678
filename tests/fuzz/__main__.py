"""Judges thousands of mutated files on two processes and prints what became of them.

python -m tests.fuzz [--files 10000] [--seed 7] [--processes 2] [--only NUMBER]
"""

import argparse
import multiprocessing
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]

from fuzz.run import counted, many  # noqa: E402  the path above comes first
from fuzz.verdict import OUTCOMES  # noqa: E402

COLUMNS = (*OUTCOMES, "BROKEN")


def _work(numbers: range, seed: int, queue) -> None:
    try:
        many(numbers, seed, queue.put)
    finally:
        queue.put(None)


def _gathered(files: int, seed: int, processes: int) -> list:
    queue: multiprocessing.Queue = multiprocessing.Queue()
    start = time.monotonic()
    workers = [
        multiprocessing.Process(target=_work, args=(range(at, files, processes), seed, queue))
        for at in range(processes)
    ]
    for worker in workers:
        worker.start()
    found, left = [], processes
    while left:
        item = queue.get(timeout=300)
        if item is None:
            left -= 1
            continue
        found.append(item)
        if item[2].startswith("BROKEN"):
            print(f"file {item[0]} ({item[1]}): {item[2]}", flush=True)
        if len(found) % 500 == 0:
            seconds = time.monotonic() - start
            print(
                f"... {len(found):,} of {files:,} files, {seconds:,.0f} s",
                file=sys.stderr,
                flush=True,
            )
    return found


def _print(found: list) -> None:
    counts = counted(found)
    print(f"{'mutation':24}" + "".join(f"{name:>13}" for name in ("files", *COLUMNS)))
    for kind, count in sorted(counts.items()):
        cells = [sum(count.values()), *(count[name] for name in COLUMNS)]
        print(f"{kind:24}" + "".join(f"{cell:>13,}" for cell in cells))
    totals = [len(found), *(sum(count[name] for count in counts.values()) for name in COLUMNS)]
    print(f"{'all':24}" + "".join(f"{cell:>13,}" for cell in totals))


def main() -> int:
    """Run and print; return 1 where anything was broken."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "--files", type=int, default=10_000, help="number of files (default: 10000)"
    )
    parser.add_argument("--seed", type=int, default=7, help="seed of the files (default: 7)")
    parser.add_argument("--processes", type=int, default=2, help="processes (default: 2)")
    parser.add_argument("--only", type=int, help="judge this one file again")
    given = parser.parse_args()
    if given.only is not None:
        found: list = []
        many([given.only], given.seed, found.append)
    else:
        found = _gathered(given.files, given.seed, given.processes)
    _print(found)
    broken = [item for item in found if item[2].startswith("BROKEN")]
    if given.only is not None and broken:
        print(broken[0][2])
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
