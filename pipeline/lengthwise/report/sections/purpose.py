"""Why, and against which criteria; and how each criterion was met."""

from typing import Any

import pandas as pd

from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    by_measure,
    count_cell,
    counts_cell,
    document_kind,
    hundred_cell,
    hundred_interval_cell,
)
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import in_hundred, number

NO_EXCEPTION = "none"
PURPOSES = {
    "Audit": "This audit compares recorded care with the practice's own criteria and targets, "
    "names the gaps and sets actions and a date to measure again.",
    "Service evaluation": "This service evaluation describes recorded care. It judges no one "
    "and changes no one's treatment.",
    "Research analysis": "This analysis serves a research question under the approval named "
    "above. It is not reported as an audit.",
}


HELD = (
    "Intervals of shares allow for cases alike within patients. In simulated practices they held "
    "the truth 93 to 98 times in 100, with 30 patients or fewer 91 to 98 times.\n"
)


def purpose(run_data: RunData) -> str:
    """Return why the report was made."""
    return PURPOSES[document_kind(run_data)] + "\n"


def criteria_statements(run_data: RunData) -> str:
    """Return the criteria as they were agreed: statement, why, exceptions, target."""
    criteria = run_data.setting("criteria", default=[])
    if not criteria:
        return "No criteria are set for this run.\n"
    rows = [_statement(item) for item in criteria]
    # A column of nothing but "none" would take the room that the reasons need.
    has_exceptions = any(row[2] != NO_EXCEPTION for row in rows)
    if not has_exceptions:
        rows = [(*row[:2], "", *row[3:]) for row in rows]
    columns = (
        text("Criterion"),
        text("Why, and source"),
        text("Exceptions"),
        figure("Target (per 100)"),
        text("Version, valid from"),
    )
    caption = "Criteria and targets, set by the practice"
    if not has_exceptions:
        caption += "; none has exceptions"
    return pipe_table(columns, rows, caption=caption, label="criteria")


def _statement(item: dict[str, Any]) -> tuple[str, ...]:
    target = item.get("target")
    why = [str(item[key]) for key in ("rationale", "source") if item.get(key)]
    since = [str(item[key]) for key in ("version", "valid_from") if item.get(key)]
    return (
        str(item.get("statement") or item.get("id", "")),
        "; ".join(why),
        str(item.get("exceptions") or NO_EXCEPTION),
        "" if target is None else in_hundred(float(target)),
        ", ".join(since),
    )


def criteria_results(run_data: RunData) -> str:
    """Return how each criterion was met, with its gap in points and in cases."""
    rows = run_data.select(section="criteria")
    if rows.empty:
        return NOT_ANALYSED
    names = {
        item["id"]: item.get("statement") or item["id"]
        for item in run_data.setting("criteria", default=[])
    }
    cells = [
        _result(names.get(subject, subject), by_measure(own))
        for subject, own in rows.groupby("subject", sort=False)
    ]
    columns = (
        text("Criterion"),
        figure("Met"),
        figure("Per 100"),
        figure("95% interval"),
        figure("Target"),
        figure("Gap (points)"),
        figure("Gap (cases)"),
        figure("Exceptions"),
    )
    caption = (
        "Criteria: met, of eligible, with the gap to the target (points: met less target; "
        "cases: how many more would have reached it)"
    )
    table = pipe_table(
        columns, cells, caption=caption, label="criteria-results", ids=rows["result_id"]
    )
    return f"{table}\n{HELD}"


def _result(statement: str, measures: dict[str, Row]) -> tuple[str, ...]:
    share = measures.get("share")
    target = None if share is None else share["target"]
    exceptions = measures.get("exceptions")
    return (
        statement,
        counts_cell(share),
        hundred_cell(share),
        hundred_interval_cell(share),
        "" if target is None or pd.isna(target) else in_hundred(target),
        _points(measures.get("gap_points")),
        _gap(measures.get("gap_cases")),
        count_cell(exceptions["estimate"]) if exceptions is not None else "",
    )


def _gap(row: Row | None) -> str:
    if row is None or not row["valid"] or pd.isna(row["estimate"]):
        return ""
    return number(row["estimate"], 0)


def _points(row: Row | None) -> str:
    """Return a gap that is stored as a proportion in points."""
    if row is None or not row["valid"] or pd.isna(row["estimate"]):
        return ""
    return number(100 * row["estimate"], 0, signed=True)
