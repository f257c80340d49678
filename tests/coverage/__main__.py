"""Tries the studies of coverage and writes their tables: `python -m tests.coverage [STUDY ...]`.

A stopped run goes on where it stopped; `--fresh` begins again.
"""

import argparse
import os

# One thread a process: the processes themselves take all the cores.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from tests.handbook_tables import write_coverage  # noqa: E402

from .runner import RESULTS, run_study  # noqa: E402
from .studies import STUDIES  # noqa: E402


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.coverage", description=__doc__)
    parser.add_argument("study", nargs="*", help=f"of: {', '.join(STUDIES)}; all by default")
    parser.add_argument(
        "--simulations", type=int, default=0, help="by cell; study's own number"
    )
    parser.add_argument("--workers", type=int, default=0, help="processes; as many as cores")
    parser.add_argument("--fresh", action="store_true", help="try finished cells again")
    asked = parser.parse_args()
    unknown = set(asked.study) - set(STUDIES)
    if unknown:
        parser.error(f"no such study: {', '.join(sorted(unknown))}")
    for name in asked.study or STUDIES:
        rows = run_study(
            STUDIES[name], simulations=asked.simulations, workers=asked.workers,
            is_fresh=asked.fresh, say=lambda text: print(text, flush=True),
        )  # fmt: skip
        outside = sum(row["within_93_97"] == "no" for row in rows)
        print(
            f"{name}: {len(rows)} rows, {outside} outside 93 to 97 %, in {RESULTS / name}.csv"
        )
    # The handbook shows what was found, all of it.
    write_coverage()


if __name__ == "__main__":
    main()
