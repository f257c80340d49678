"""Kills load, derivation, analysis and pack at random moments, and prints what that left.

python -m tests.faults [--kills 200] [--seed 20261125] [--only STAGE] [--save]
"""

import argparse
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]

import numpy as np  # noqa: E402  the paths above come first

from bench.__main__ import RESULTS, machine  # noqa: E402
from faults.trials import STAGES, kills, prepared  # noqa: E402

COLUMNS = ("kills", "landed inside", "old", "new")


def line(name, cells):
    """Return a line of the table."""
    return f"{name:22}" + "".join(f"{cell:>15}" for cell in cells)


def row(name, tallies):
    """Return the line of a stage, or of several together."""
    counts = [sum(tally.counts[column] for tally in tallies) for column in COLUMNS]
    return line(name, [*counts, sum(len(tally.failures) for tally in tallies)])


def killed(given, work):
    """Kill every stage that is wanted; yield its name and its tally as it is done."""
    bases = {}
    for place, stage in enumerate(STAGES):
        if given.only and stage.name not in given.only:
            continue
        if stage.base not in bases:
            bases[stage.base] = stage.base(work / stage.base.__name__)
        scene = prepared(stage, bases[stage.base], work)
        # A stage has its own moments, so that it can be killed again without the others.
        generator = np.random.default_rng([given.seed, place])
        number = round(given.kills / len(STAGES))
        yield stage.name, kills(scene, number, generator, work, tell=_tell)


def arguments():
    """Return what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "--kills", type=int, default=200, help="kills over all stages (default: 200)"
    )
    parser.add_argument("--seed", type=int, default=20261125, help="seed of the moments")
    parser.add_argument(
        "--only", action="append", choices=[stage.name for stage in STAGES],
        help="kill this stage only, by its share of the kills; may be given again",
    )  # fmt: skip
    parser.add_argument("--save", action="store_true", help="keep the table with its date")
    return parser.parse_args()


def main():
    """Run and print; return 1 where anything was lost, half done or in the way."""
    given, begun, tallies = arguments(), time.monotonic(), {}
    lines = [line("stage", (*COLUMNS, "failures"))]
    print(lines[0], flush=True)
    with tempfile.TemporaryDirectory(prefix="faults-") as work:
        for name, tally in killed(given, Path(work)):
            tallies[name] = tally
            lines += [row(name, [tally]), *tally.failures]
            print("\n".join(lines[-1 - len(tally.failures) :]), flush=True)
    lines += [row("all", tallies.values()), f"{time.monotonic() - begun:,.0f} s"]
    print("\n".join(lines[-2:]))
    if given.save:
        today = datetime.now(UTC).date().isoformat()
        head = [f"{today}; {machine()}", "", f"{__doc__.splitlines()[0]} Seed {given.seed}."]
        text = "\n".join([*head, *(f"  {one}" for one in lines)]) + "\n"
        (RESULTS / f"{today}-faults.txt").write_text(text, encoding="utf-8")
    return 1 if any(tally.failures for tally in tallies.values()) else 0


def _tell(words):
    print(f"... {words}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
