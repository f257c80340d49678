"""Runs every benchmark module of this folder, prints one table and keeps it with its date."""

import importlib
import os
import platform
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

HERE = Path(__file__).resolve().parent
RESULTS = HERE / "results"
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]
# As the command sets it: threads of the algebra library would only wait for one another.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def machine() -> str:
    """Return what the figures were measured on."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    return (
        f"{platform.machine()}, {os.cpu_count()} cores, {memory:.0f} GiB, "
        f"Python {platform.python_version()}, {platform.system()}"
    )


def lines_of(name: str) -> Iterator[str]:
    """Yield the lines of one benchmark as they come."""
    module = importlib.import_module(f"bench.bench_{name}")
    yield f"\n{(module.__doc__ or name).splitlines()[0]}"
    for row in module.run():
        yield "  " + "  ".join(f"{key}={value}" for key, value in dict(row).items())


def main(wanted: list[str]) -> None:
    """Run the wanted benchmarks, all by default; each keeps a file of the day."""
    print(machine())
    RESULTS.mkdir(exist_ok=True)
    today = datetime.now(UTC).date().isoformat()
    for path in sorted(HERE.glob("bench_*.py")):
        name = path.stem.removeprefix("bench_")
        if wanted and name not in wanted:
            continue
        kept = []
        for line in lines_of(name):
            print(line, flush=True)
            kept.append(line)
        text = "\n".join([f"{today}; {machine()}", *kept]) + "\n"
        (RESULTS / f"{today}-{name}.txt").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
