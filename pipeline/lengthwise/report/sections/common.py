"""What several sections share: the kind of document, absent results, cells of tables."""

from typing import Any

import pandas as pd

from lengthwise.report.run_data import Row, RunData
from lengthwise.report.tables import MASKED
from lengthwise.report.wording import in_hundred, interval_text, number

NOT_ANALYSED = "Not analysed in this run.\n"
AUDIT, EVALUATION, RESEARCH = "Audit", "Service evaluation", "Research analysis"


def document_kind(run_data: RunData) -> str:
    """Return Audit only where the parts that make an audit are all there."""
    if run_data.setting("purpose") == "research":
        return RESEARCH
    is_wanted = run_data.setting("purpose") == "audit"
    return AUDIT if is_wanted and not missing_for_audit(run_data) else EVALUATION


def missing_for_audit(run_data: RunData) -> list[str]:
    """Return the parts of an audit that this run does not have."""
    criteria = run_data.setting("criteria", default=[])
    missing = {
        "criteria": not criteria,
        "targets": not any(item.get("target") is not None for item in criteria),
        "actions": not run_data.setting("actions", default=[]),
        "a re-audit date": not run_data.setting("re_audit_date"),
    }
    return [name for name, is_missing in missing.items() if is_missing]


def is_masked(row: Row) -> bool:
    return not row["valid"] and str(row["reason"]).lower().startswith("masked")


def refusal_cell(row: Row) -> str:
    """Return what stands in a table where a number is not given."""
    return MASKED if is_masked(row) else str(row["reason"] or "not given")


def value_cell(row: Row | None, decimals: int = 2, *, signed: bool = False) -> str:
    if row is None:
        return ""
    if not row["valid"]:
        return refusal_cell(row)
    return number(row["estimate"], decimals, signed=signed)


def interval_cell(row: Row | None, decimals: int = 2, *, signed: bool = False) -> str:
    if row is None or not row["valid"] or pd.isna(row["lower"]) or pd.isna(row["upper"]):
        return ""
    return interval_text(row, signed=signed, decimals=decimals)


def counts_cell(row: Row | None) -> str:
    """Return "18 of 60"; counts stay visible where only the rate is refused."""
    if row is None:
        return ""
    if is_masked(row):
        return MASKED
    if pd.isna(row["numerator"]) or pd.isna(row["denominator"]):
        return ""
    return f"{int(row['numerator'])} of {int(row['denominator'])}"


def hundred_cell(row: Row | None) -> str:
    """Return a share per 100, or why it is not given."""
    if row is None:
        return ""
    return in_hundred(row["estimate"]) if row["valid"] else refusal_cell(row)


def hundred_interval_cell(row: Row | None) -> str:
    if row is None or not row["valid"] or pd.isna(row["lower"]):
        return ""
    return f"{in_hundred(row['lower'])} to {in_hundred(row['upper'])}"


def count_cell(value: Any) -> str:
    return "" if value is None or pd.isna(value) else str(int(value))


def by_measure(rows: pd.DataFrame) -> dict[str, Row]:
    """Return the first row of each measure."""
    first = rows.drop_duplicates("measure")
    return {row["measure"]: row for _, row in first.iterrows()}


def warnings_note(rows: pd.DataFrame) -> str:
    """Return the distinct warnings that stand beside valid numbers, as one sentence each."""
    from lengthwise.report import escape
    from lengthwise.report.wording import name_of, sentence

    valid = rows[rows["valid"] & (rows["reason"] != "")]
    groups = valid.groupby("reason", sort=False)["subject"]
    named = (
        f"{', '.join(name_of(str(code)) for code in dict.fromkeys(subjects))}: {reason}"
        for reason, subjects in groups
    )
    return "\n\n".join(escape.markdown(sentence(text)) for text in named)
