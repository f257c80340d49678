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
    figure("Filling end (mm)"),
    text("Detail"),
)


def safety_notice(run_data: RunData) -> str:
    """Return the box that comes before every count: what to do, and how many cases."""
    lists = _lists(run_data)
    counts = "; ".join(f"{LISTS[name].lower()}: {len(rows)}" for name, rows in lists.items())
    body = f"**{SAFETY}** Listed: {counts}."
    return callout("important", "Safety first", body)


def safety_lists(run_data: RunData) -> str:
    """Return one table per list that has cases."""
    tables = [_table(name, rows) for name, rows in _lists(run_data).items() if len(rows)]
    nothing = "No case is listed. Events that nobody recorded cannot be listed.\n"
    return "\n".join(tables) or nothing


def _lists(run_data: RunData) -> dict[str, pd.DataFrame]:
    return {name: run_data.listed(name) for name in LISTS}


def _table(name: str, rows: pd.DataFrame) -> str:
    cells = [
        (
            row["treatment_id"],
            row["tooth"],
            row["canal"],
            row["period"],
            number(row["value_mm"], 1, signed=True),
            row["detail"],
        )
        for _, row in rows.iterrows()
    ]
    caption = (
        f"{LISTS[name]}: {counted(len(rows), 'case')}, by treatment key; filling end above "
        "nought is beyond the radiographic apex"
    )
    return pipe_table(COLUMNS, cells, caption=caption, label=f"safety-{escape.slug(name)}")
