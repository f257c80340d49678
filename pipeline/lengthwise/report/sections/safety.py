"""Lists that ask for a clinician's eye before anything is counted."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.cautions import SAFETY
from lengthwise.report.run_data import RunData
from lengthwise.report.tables import callout, figure, pipe_table, text
from lengthwise.report.wording import counted, number

LISTS = {
    "incidents": "Adverse events recorded",
    "altered_sensation": "Altered sensation recorded",
    "beyond_lower_posterior": "Lower posterior teeth with material beyond the apex",
}
COLUMNS = (
    text("Treatment"),
    text("Tooth"),
    text("Canal"),
    text("Period"),
    figure("Beyond (mm)"),
    text("Detail"),
)


def safety(run_data: RunData) -> str:
    """Return the safety box and one table per list that has cases."""
    lists = {name: run_data.listed(name) for name in LISTS}
    total = sum(len(rows) for rows in lists.values())
    counts = "; ".join(f"{LISTS[name].lower()}: {len(rows)}" for name, rows in lists.items())
    body = f"**{SAFETY}**\n\nListed in this run: {counts}."
    parts = [callout("important", "Safety first", body)]
    if not total:
        parts.append("No case is listed. Events that nobody recorded cannot be listed.\n")
    parts += [_table(name, rows) for name, rows in lists.items() if len(rows)]
    return "\n".join(parts)


def _table(name: str, rows: pd.DataFrame) -> str:
    cells = [
        (
            row["treatment_id"],
            row["tooth"],
            row["canal"],
            row["period"],
            number(row["value_mm"], 1),
            row["detail"],
        )
        for _, row in rows.iterrows()
    ]
    caption = f"{LISTS[name]}: {counted(len(rows), 'case')}, by treatment key"
    return pipe_table(COLUMNS, cells, caption=caption, label=f"safety-{escape.slug(name)}")
