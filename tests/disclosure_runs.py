"""Invented runs whose tables are the margins of one table of counts, so that sums hold."""

from itertools import product

import numpy as np
import pandas as pd

from lengthwise.report.run_data import RunData, from_frames
from report_runs import RunBuilder, _run_row

LEVELS = ("short", "within", "beyond", "not_assessable")
QUARTERS = ("2025-Q3", "2025-Q4", "2026-Q1", "2026-Q2", "2026-Q3")
TEETH = ("anterior", "premolar", "molar")


def margins_run(counts: np.ndarray, **settings) -> RunData:
    """Return a run of fill levels, one criterion and flow.

    `counts` has the axes tooth type, quarter, level; its quarters are the first ones of
    QUARTERS, so that two runs of different length are two releases.
    """
    builder = RunBuilder()
    quarters = QUARTERS[: counts.shape[1]]
    span = f"{quarters[0]}..{quarters[-1]}"
    _levels(builder, counts.sum(axis=(0, 1)), period=span)
    for place, quarter in enumerate(quarters):
        own = {"period": quarter, "stratum_kind": "quarter", "stratum": quarter}
        _levels(builder, counts[:, place].sum(axis=0), **own)
        _criterion(builder, counts[:, place].sum(axis=0), **own)
    for place, tooth in enumerate(TEETH[: counts.shape[0]]):
        own = {"period": span, "stratum_kind": "tooth_type", "stratum": tooth}
        _levels(builder, counts[place].sum(axis=0), **own)
    total = int(counts.sum())
    flow = {"canals": total + 12, "fills": total}
    for name, value in flow.items():
        parent = {"denominator": flow["canals"]} if name == "fills" else {}
        columns = {"unit": "count", "numerator": value, "n_used": value, "period": span}
        builder.estimate("flow", "flow", name, "count", float(value), **columns, **parent)
    run = _run_row("run-margins", settings) | {"period": quarters[-1]}
    frames = {"run": run, "estimates": pd.DataFrame(builder.estimates)}
    empty = {name: pd.DataFrame() for name in ("points", "lists", "findings")}
    return from_frames({**frames, **empty})


def _levels(builder, counts, **columns):
    assessed, everything = int(counts[:3].sum()), int(counts.sum())
    for level, count in zip(LEVELS, counts, strict=True):
        whole = everything if level == "not_assessable" else assessed
        builder.share("fill", "B1", level, "share", int(count), whole, **columns)


def _criterion(builder, counts, **columns):
    assessed = int(counts[:3].sum())
    builder.share("criteria", "B1", "fill_within", "share", int(counts[1]), assessed, **columns)


def some_counts(seed=1, teeth=3, quarters=3, mean=(9, 40, 12, 4)) -> np.ndarray:
    random = np.random.default_rng(seed)
    counts = np.zeros((teeth, quarters, 4), dtype=int)
    for place in product(range(teeth), range(quarters)):
        counts[place] = random.poisson(mean)
    return counts
