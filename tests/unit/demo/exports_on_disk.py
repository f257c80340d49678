"""The committed demo dataset as the tests read it: plain text, judged from the dictionary."""

import csv
import re
from pathlib import Path

import numpy as np
import pandas as pd

ROOT = Path(__file__).resolve().parents[3]
DEMO = ROOT / "demo_dataset"
KEYS = ["treatment_id", "canal"]


def raw_lines(name: str) -> list[str]:
    text = (DEMO / "exports" / f"{name}.csv").read_text(encoding="utf-8")
    return text.split("\n")[1:-1]


def listed() -> list[dict[str, str]]:
    with (DEMO / "planted_faults.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def has_fault(field, value: str, missing: dict[str, str]) -> str:
    """Return the first fault of one value, judged from the dictionary alone."""
    if value in missing:
        return "missing" if field.required else ""
    if field.enum and value not in field.enum:
        return "not_allowed"
    if field.pattern and not re.search(field.pattern, value):
        return "malformed"
    if field.type == "boolean":
        return "" if value in ("yes", "no") else "not_yes_or_no"
    shape = {"integer": r"-?\d+", "number": r"-?\d+(\.\d+)?"}.get(field.type)
    if shape is None:
        return ""
    if not re.fullmatch(shape, value):
        return {"integer": "not_an_integer", "number": "not_a_number"}[field.type]
    low, high = field.minimum, field.maximum
    outside = (low is not None and float(value) < low) or (
        high is not None and float(value) > high
    )
    return "out_of_range" if outside else ""


def mean_interval(values: pd.Series) -> tuple[float, float]:
    half = 1.96 * values.std() / np.sqrt(len(values))
    return values.mean() - half, values.mean() + half


def odds_ratio_interval(event: pd.Series, exposed: pd.Series) -> tuple[float, float]:
    table = pd.crosstab(exposed, event).to_numpy().astype(float)
    log_ratio = np.log(table[1, 1] * table[0, 0] / (table[1, 0] * table[0, 1]))
    half = 1.96 * np.sqrt((1 / table).sum())
    return float(np.exp(log_ratio - half)), float(np.exp(log_ratio + half))
