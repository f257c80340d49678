"""Writes the handbook's table of check values: `python -m tests.reference.table`.

One row per case: of its numbers the one whose difference is largest for its tolerance, with
what the source prints and what the product gives. Data that may not be kept in the project
are read where they lie beside the checkout.
"""

import csv
import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent)]

from reference.adapters import METHODS, NOT_OFFERED  # noqa: E402
from reference.runner import BESIDE_CHECKOUT, KEPT, Case, cases_of  # noqa: E402

TABLE = HERE.parents[1] / "reports" / "_tables" / "check_values.csv"
COLUMNS = (
    "case", "method", "source", "numbers", "quantity", "expected", "ours", "difference",
    "outcome",
)  # fmt: skip
Row = dict[str, str]
NO_DATA = "the data may not be kept in the project and are not beside the checkout"


def numbers_of(got: Any, expected: Any, where: str = "") -> Iterator[tuple[str, float, float]]:
    """Yield name, expected and given number of every finite number that a case checks."""
    if isinstance(expected, dict):
        for name, value in expected.items():
            inner = got.get(name) if isinstance(got, dict) else None
            yield from numbers_of(inner, value, f"{where}.{name}" if where else name)
    elif isinstance(expected, list):
        values = got.tolist() if hasattr(got, "tolist") else got or []
        for place, (one, value) in enumerate(zip(values, expected, strict=False), start=1):
            yield from numbers_of(one, value, f"{where}[{place}]")
    elif isinstance(expected, int | float) and math.isfinite(expected):
        yield where or "result", float(expected), float("nan" if got is None else got)


def row_of(case: Case) -> Row:
    """Return the row of one case; why, where it is not run."""
    row = dict.fromkeys(COLUMNS, "") | {"case": case.id, "method": case.method}
    row["source"] = " ".join(case.source.split())
    if case.method in NOT_OFFERED:
        return row | {"outcome": f"not offered: {NOT_OFFERED[case.method]}"}
    if case.data is not None and case.data_path() is None:
        return row | {"outcome": NO_DATA}
    found = list(numbers_of(METHODS[case.method](case.frame(), case.arguments), case.expected))
    if not found:
        return row | {"numbers": "0", "outcome": "yes or no only; met"}
    name, expected, ours = max(found, key=lambda one: _distance(case, one[1], one[2]))
    is_met = all(_distance(case, wanted, given) <= 1 for _, wanted, given in found)
    return row | {
        "numbers": str(len(found)), "quantity": name, "expected": f"{expected:.10g}",
        "ours": f"{ours:.10g}", "difference": f"{ours - expected:.1e}",
        "outcome": "met" if is_met else "not met",
    }  # fmt: skip


def _distance(case: Case, expected: float, ours: float) -> float:
    """Return the difference in tolerances; one that is no number is infinitely far."""
    allowed = case.absolute + case.relative * abs(expected)
    distance = abs(ours - expected) / allowed if allowed else abs(ours - expected)
    return distance if math.isfinite(distance) else math.inf


def table_cases() -> list[Case]:
    """Return the cases of the table, with every folder that may hold their data."""
    return cases_of(KEPT, BESIDE_CHECKOUT)


def write(path: Path = TABLE) -> int:
    """Write the table; return its number of rows."""
    rows = [row_of(case) for case in table_cases()]
    with path.open("w", encoding="utf-8", newline="") as target:
        writer = csv.DictWriter(target, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return len(rows)


if __name__ == "__main__":
    print(f"{write()} cases in {TABLE.name}")
