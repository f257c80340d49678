"""Data quality: rows taken and set aside, completeness, findings by code."""

import pandas as pd

from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    count_cell,
    counts_cell,
    hundred_cell,
    value_cell,
)
from lengthwise.report.tables import figure, pipe_table, text

ROW_MEASURES = ("rows_accepted", "rows_quarantined")


def quality(run_data: RunData) -> str:
    """Return the tables that are there; the section says so where none is."""
    rows = run_data.select(section="quality")
    parts = [_rows_taken(rows), _completeness(rows), _findings(run_data, rows)]
    return "\n".join(part for part in parts if part) or NOT_ANALYSED


def _rows_taken(rows: pd.DataFrame) -> str:
    own = rows[rows["measure"].isin(ROW_MEASURES)]
    if own.empty:
        return ""
    cells = []
    for export, group in own.groupby("subject", sort=False):
        values = group.set_index("measure")
        both = [
            value_cell(values.loc[name], 0) if name in values.index else ""
            for name in ROW_MEASURES
        ]
        cells.append((str(export), *both))
    columns = (text("Export"), figure("Rows accepted"), figure("Rows set aside"))
    caption = "Rows accepted and set aside; both together are the rows of the files"
    return pipe_table(columns, cells, caption=caption, label="rows")


def _completeness(rows: pd.DataFrame) -> str:
    own = rows[rows["measure"] == "completeness"]
    if own.empty:
        return ""
    cells = []
    for _, row in own.iterrows():
        export, _, field = row["subject"].partition(".")
        named = (export, field.replace("_", " ") or export)
        cells.append((*named, counts_cell(row), hundred_cell(row)))
    columns = (text("Export"), text("Field"), figure("Recorded"), figure("Per 100"))
    return pipe_table(columns, cells, caption="Completeness by field", label="completeness")


def _findings(run_data: RunData, rows: pd.DataFrame) -> str:
    findings = run_data.findings
    if findings.empty:
        counts = rows[(rows["measure"] == "count") & rows["valid"]]
        cells = [(row["subject"], value_cell(row, 0), "") for _, row in counts.iterrows()]
    else:
        cells = [
            (str(row["code"]), count_cell(row["count"]), str(row.get("remedy", "")))
            for _, row in findings.iterrows()
        ]
    if not cells:
        return "No finding was raised by the checks.\n" if len(rows) else ""
    columns = (text("Check code"), figure("Rows"), text("Remedy"))
    return pipe_table(columns, cells, caption="Findings of the checks", label="findings")
