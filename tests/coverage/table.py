"""The table of coverage: one row per cell, method and quantity, kept as CSV.

`grid` is the cell as JSON; `coverage` the share of simulations with a number whose interval
held the truth, `coverage_se` its Monte Carlo error; `mean_bias` and `mean_width` are in the
quantity's unit; `refused_share` had no number; of those with one, `limit_stated_share` said
themselves how far their interval held in simulation; `within_93_97` judges `coverage`.
"""

import csv
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

from .study import Cell, Study, Tried, text_of

COLUMNS = (
    "study", "method", "quantity", "truth", "grid", "n_simulations", "coverage",
    "coverage_se", "mean_bias", "mean_width", "refused_share", "limit_stated_share",
    "within_93_97",
)  # fmt: skip
Row = dict[str, str]


def row_of(study: Study, cell: Cell, tried: Tried) -> Row:
    """Return how often the truth was held, by how much the centre is off, and how wide."""
    given = np.isfinite(tried.lower) & np.isfinite(tried.upper)
    truth = np.broadcast_to(np.asarray(tried.truth, dtype=float), given.shape)
    held = (tried.lower <= truth) & (truth <= tried.upper)
    n, used = len(given), int(given.sum())
    share = float(held[given].mean()) if used else float("nan")
    numbers: dict[str, Any] = {
        "truth": float(truth.mean()),
        "coverage": share,
        "coverage_se": float(np.sqrt(share * (1 - share) / used)) if used else float("nan"),
        "mean_bias": _mean((tried.estimate - truth)[given]),
        "mean_width": _mean((tried.upper - tried.lower)[given]),
        "refused_share": 1 - used / n,
        "limit_stated_share": _mean(np.asarray(tried.limit_stated, dtype=float)[given]),
    }
    row = {name: "" if value != value else f"{value:.5g}" for name, value in numbers.items()}
    return row | {
        "study": study.name, "method": tried.method, "quantity": tried.quantity,
        "grid": text_of(cell), "n_simulations": str(n),
        "within_93_97": ("yes" if 0.93 <= share <= 0.97 else "no") if used else "",
    }  # fmt: skip


def _mean(values: np.ndarray) -> float:
    return float(values.mean()) if len(values) else float("nan")


def read(path: Path) -> list[Row]:
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def write(path: Path, rows: Iterable[Row]) -> None:
    """Write the whole table aside and rename it, so that a stopped run leaves no torn row."""
    aside = path.with_suffix(".part")
    with aside.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.DictWriter(handle, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    aside.replace(path)
