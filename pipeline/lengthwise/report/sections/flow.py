"""Flow of cases from eligible to analysed."""

from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import NOT_ANALYSED, value_cell
from lengthwise.report.tables import figure, pipe_table, text

STEPS = {
    "treatments": "Treatments accepted",
    "canals": "Canals of these treatments",
    "readings": "Length readings of these canals",
    "canals_with_pairs": "Canals with a reading and a confirmed length",
    "fills": "Fillings with a film read",
    "fills_assessable": "Fillings whose end could be assessed",
    "teeth_due": "Teeth due for review",
    "teeth_reviewed": "Teeth reviewed",
    "teeth_countable": "Teeth counted in the outcome",
}


def flow(run_data: RunData) -> str:
    """Return the counts of each step, in the order in which cases pass."""
    rows = run_data.select(section="flow", measure="count")
    if rows.empty:
        return NOT_ANALYSED
    # Steps unknown here come last, in the run's own order, so that nothing is hidden.
    order = {name: index for index, name in enumerate(STEPS)}
    rows = rows.assign(step=[order.get(name, len(order)) for name in rows["subject"]])
    rows = rows.sort_values(["step", "position"])
    cells = [
        (
            STEPS.get(row["subject"], row["subject"].replace("_", " ")),
            value_cell(row, 0),
            row["reason"] if row["valid"] else "",
        )
        for _, row in rows.iterrows()
    ]
    columns = [text("Step"), figure("Count"), text("Remark")]
    if not any(remark for *_, remark in cells):
        columns, cells = columns[:2], [cell[:2] for cell in cells]
    caption = f"Flow of cases to the end of {run_data.run['period']}"
    return pipe_table(columns, cells, caption=caption, label="flow")
