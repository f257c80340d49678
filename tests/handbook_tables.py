"""Writes the tables that the handbook shows: `python -m tests.handbook_tables`."""

import csv
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from reference.table import write  # noqa: E402

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


def coverage_summary() -> list[list[str]]:
    """Return, a head first, each study's title and where each of its limits is told.

    One row per method and quantity; `told` is empty where every figure lies inside 93 to 97.
    """
    from tests.coverage.stated import told_of
    from tests.coverage.studies import STUDIES

    head, *body = joined_coverage()
    by_study = dict.fromkeys(row[head.index("study")] for row in body)
    rows = [["study", "about", "method", "quantity", "told"]]
    for name in (study for study in STUDIES if study in by_study):
        own = [dict(zip(head, row, strict=True)) for row in body if row[0] == name]
        pairs = dict.fromkeys((row["method"], row["quantity"]) for row in own)
        rows += [
            [name, STUDIES[name].about, *pair, told_of(name, *pair, own)] for pair in pairs
        ]
    return rows


def write_coverage(folder: Path = TABLES) -> int:
    """Write the table of coverage and its summary; return the number of figures."""
    tables = {"coverage.csv": joined_coverage(), "coverage_summary.csv": coverage_summary()}
    for name, rows in tables.items():
        with (folder / name).open("w", encoding="utf-8", newline="") as target:
            csv.writer(target, lineterminator="\n").writerows(rows)
    return len(tables["coverage.csv"]) - 1


if __name__ == "__main__":
    print(f"{write()} cases")
    print(f"{write_coverage()} figures of coverage")
