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

# Of 200 kills: loads on an empty folder and onto a load, and the three other stages.
SHARES = {stage.name: 0.2 for stage in STAGES}
COLUMNS = ("kills", "landed inside", "old", "new")


def numbers(total):
    """Return the number of kills by stage."""
    return {name: round(total * share) for name, share in SHARES.items()}


def table(tallies, seconds):
    """Return the lines of the table and of every failure."""
    lines = [f"{'stage':22}" + "".join(f"{name:>15}" for name in (*COLUMNS, "failures"))]
    for name, tally in tallies.items():
        cells = [*(tally.counts[column] for column in COLUMNS), len(tally.failures)]
        lines.append(f"{name:22}" + "".join(f"{cell:>15}" for cell in cells))
    totals = [sum(tally.counts[column] for tally in tallies.values()) for column in COLUMNS]
    totals.append(sum(len(tally.failures) for tally in tallies.values()))
    lines.append(f"{'all':22}" + "".join(f"{cell:>15}" for cell in totals))
    failures = [words for tally in tallies.values() for words in tally.failures]
    return [*lines, *failures, f"{seconds:,.0f} s"]


def main():
    """Run and print; return 1 where anything was lost, half done or in the way."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=200, help="kills (default: 200)")
    parser.add_argument("--seed", type=int, default=20261125, help="seed of the moments")
    parser.add_argument("--only", help="kill this stage only")
    parser.add_argument("--save", action="store_true", help="keep the table with its date")
    given = parser.parse_args()
    generator = np.random.default_rng(given.seed)
    begun, tallies, bases = time.monotonic(), {}, {}
    with tempfile.TemporaryDirectory(prefix="faults-") as place:
        work = Path(place)
        for stage in (item for item in STAGES if given.only in (None, item.name)):
            if stage.base not in bases:
                bases[stage.base] = stage.base(work / stage.base.__name__)
            scene = prepared(stage, bases[stage.base], work)
            number = numbers(given.kills)[stage.name]
            tallies[stage.name] = kills(scene, number, generator, work, tell=_tell)
    lines = table(tallies, time.monotonic() - begun)
    print("\n".join(lines))
    if given.save:
        today = datetime.now(UTC).date().isoformat()
        head = [f"{today}; {machine()}", "", f"{__doc__.splitlines()[0]} Seed {given.seed}."]
        text = "\n".join([*head, *(f"  {line}" for line in lines)]) + "\n"
        (RESULTS / f"{today}-faults.txt").write_text(text, encoding="utf-8")
    return 1 if any(tally.failures for tally in tallies.values()) else 0


def _tell(words):
    print(f"... {words}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
