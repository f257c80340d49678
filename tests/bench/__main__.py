"""Runs every benchmark module of this folder and prints one table."""

import importlib
import platform
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]


def main(wanted: list[str]) -> None:
    print(f"{platform.machine()}, Python {platform.python_version()}, {platform.system()}")
    for path in sorted(HERE.glob("bench_*.py")):
        name = path.stem.removeprefix("bench_")
        if wanted and name not in wanted:
            continue
        module = importlib.import_module(f"bench.{path.stem}")
        print(f"\n{(module.__doc__ or name).splitlines()[0]}")
        for row in module.run():
            print(
                "  " + "  ".join(f"{key}={value}" for key, value in dict(row).items()),
                flush=True,
            )


if __name__ == "__main__":
    main(sys.argv[1:])
