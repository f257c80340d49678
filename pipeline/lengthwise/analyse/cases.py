"""The flow of cases, data quality, and the safety lists."""

from typing import Any

import pandas as pd

from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.statistics.proportions import proportion


def analyse_flow(
    rows: ResultRows, frames: dict[str, pd.DataFrame], quarter: str, period: str
) -> None:
    """Write how many cases stand at each step, for the quarter and for the whole period."""
    # In a practice's first quarter both cover the same and are written once.
    for covered, keep in {quarter: quarter, period: None}.items():
        topic = Topic("flow", "flow", covered)
        part = {
            name: frame if keep is None else frame[frame["quarter"] == keep]
            for name, frame in frames.items()
        }
        fills, outcomes = part["fills"], part["outcomes"]
        conduct, pairs = part["canal_conduct"], part["length_pairs"]
        rows.add_count(topic, "patients", int(outcomes["patient_id"].nunique()))
        rows.add_count(topic, "treatments", len(outcomes))
        rows.add_count(topic, "canals", len(conduct))
        with_pair = pairs[pairs["confirmed_length_mm"].notna()]
        rows.add_count(
            topic, "canals_with_pairs", len(with_pair[["treatment_id", "canal"]].drop_duplicates()),
            denominator=len(conduct),
        )  # fmt: skip
        rows.add_count(topic, "readings", int(pairs["readings"].sum()))
        rows.add_count(topic, "fills", len(fills), denominator=len(conduct))
        assessed = int((fills["level"] != "not_assessable").sum())
        rows.add_count(topic, "fills_assessable", assessed, denominator=len(fills))
        due = outcomes[outcomes["is_due"]]
        rows.add_count(topic, "teeth_due", len(due), denominator=len(outcomes))
        seen = int((due["outcome"] != "not_reviewed").sum())
        rows.add_count(topic, "teeth_reviewed", seen, denominator=len(due))


def analyse_quality(rows: ResultRows, completeness: pd.DataFrame, period: str) -> None:
    """Write completeness by field; `not_applicable` does not count against a field."""
    topic = Topic("quality", "quality", period)
    for row in completeness.itertuples():
        value = proportion(int(row.present), int(row.total))
        rows.add(
            topic, "completeness", f"{row.export}.{row.field}", value, unit="proportion",
            numerator=int(row.present), denominator=int(row.total),
        )  # fmt: skip


def list_safety(rows: ResultRows, lists: dict[str, pd.DataFrame]) -> None:
    """Write the safety lists of the quarter: they come first in every internal report."""
    for name, frame in lists.items():
        for row in frame.itertuples():
            rows.lists.append(
                {
                    "list_name": name,
                    "position": len(rows.lists),
                    "treatment_id": row.treatment_id,
                    "canal": _text(row.canal),
                    "tooth": row.tooth,
                    "clinician_id": row.clinician_id,
                    "period": row.period,
                    "value_mm": None if pd.isna(row.value_mm) else float(row.value_mm),
                    "detail": row.detail,
                }
            )


def _text(value: Any) -> str:
    return "" if value is None or pd.isna(value) else str(value)
