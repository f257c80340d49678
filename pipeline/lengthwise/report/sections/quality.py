"""Data quality: rows taken and set aside, completeness, findings by code."""

import pandas as pd

from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    count_cell,
    counts_cell,
    hundred_cell,
)
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import counted

FIELDS_AT_MOST = 20
CODES_AT_MOST = 12


def quality(run_data: RunData) -> str:
    """Return the tables that are there; the section says so where none is."""
    rows = run_data.select(section="quality")
    parts = [_rows_taken(run_data), _completeness(rows), _findings(run_data, rows)]
    return "\n".join(part for part in parts if part) or NOT_ANALYSED


def _rows_taken(run_data: RunData) -> str:
    inputs = [item for item in run_data.run.get("inputs") or [] if "rows_read" in item]
    if not inputs:
        return ""
    counts = ("rows_read", "rows_accepted", "rows_quarantined")
    cells = [
        (str(item.get("export", "")), *(count_cell(item.get(name)) for name in counts))
        for item in inputs
    ]
    headings = ("Rows read", "Rows accepted", "Rows set aside")
    columns = (text("Export"), *(figure(heading) for heading in headings))
    caption = "Rows accepted and set aside; both together are the rows read"
    return pipe_table(columns, cells, caption=caption, label="rows")


def _completeness(rows: pd.DataFrame) -> str:
    """Return the fields with gaps, most gaps first; whole ones are counted in a sentence."""
    own = rows[rows["measure"] == "completeness"]
    if own.empty:
        return ""
    gaps = own[own["numerator"] < own["denominator"]]
    gaps = gaps.assign(share=gaps["numerator"] / gaps["denominator"])
    gaps = gaps.sort_values(["share", "position"])
    whole = f"{counted(len(own) - len(gaps), 'field')} of {len(own)} have no gap."
    if gaps.empty:
        return f"{whole}\n"
    cells = []
    for _, row in gaps.head(FIELDS_AT_MOST).iterrows():
        export, _, field = row["subject"].partition(".")
        cells.append((export, field.replace("_", " "), counts_cell(row), hundred_cell(row)))
    columns = (text("Export"), text("Field"), figure("Recorded"), figure("Per 100"))
    caption = "Completeness by field, most gaps first"
    table = pipe_table(
        columns, cells, caption=caption, label="completeness", ids=own["result_id"]
    )
    more = len(gaps) - FIELDS_AT_MOST
    rest = f" {counted(more, 'further field')} with fewer gaps not shown." if more > 0 else ""
    return f"{table}\n{whole}{rest}\n"


def _findings(run_data: RunData, rows: pd.DataFrame) -> str:
    findings = run_data.findings
    if findings.empty:
        return "No finding was raised by the checks.\n" if len(rows) else ""
    ordered = findings.sort_values("count", ascending=False, kind="stable")
    cells = [
        (
            str(row["code"]),
            str(row.get("severity", "")),
            count_cell(row["count"]),
            str(row.get("remedy", "")),
        )
        for _, row in ordered.head(CODES_AT_MOST).iterrows()
    ]
    columns = (text("Check code"), text("Kind"), figure("Rows"), text("Remedy"))
    caption = f"Findings of the checks: {counted(len(findings), 'code')}, most rows first"
    table = pipe_table(columns, cells, caption=caption, label="findings")
    rest = ordered.iloc[CODES_AT_MOST:]
    if rest.empty:
        return table
    rows_of_rest = counted(rest["count"].sum(), "row")
    return (
        f"{table}\n{counted(len(rest), 'further code')} with {rows_of_rest} together; the "
        "findings file of the load lists every one.\n"
    )
