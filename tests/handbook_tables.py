"""Writes the tables that the handbook shows: `python -m tests.handbook_tables`."""

import csv
import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parent)]

from reference.table import write  # noqa: E402

HERE = Path(__file__).resolve().parent
TABLES = HERE.parent / "reports" / "_tables"
RESULTS = HERE / "coverage" / "results"


def joined_coverage() -> list[list[str]]:
    """Return the rows of every study's table, one head first; study by study, by name."""
    rows: list[list[str]] = []
    for path in sorted(RESULTS.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as source:
            head, *body = list(csv.reader(source))
        if rows and rows[0] != head:
            raise ValueError(f"{path.name}: its columns differ from those of the other studies")
        rows += body if rows else [head, *body]
    return rows


def write_coverage(path: Path = TABLES / "coverage.csv") -> int:
    """Write the table of coverage; return its number of rows."""
    rows = joined_coverage()
    with path.open("w", encoding="utf-8", newline="") as target:
        csv.writer(target, lineterminator="\n").writerows(rows)
    return len(rows) - 1


if __name__ == "__main__":
    print(f"{write()} cases")
    print(f"{write_coverage()} figures of coverage")
