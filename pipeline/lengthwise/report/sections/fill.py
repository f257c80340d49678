"""Filling levels: all fillings, and by quarter, clinician or tooth type."""

from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    counts_cell,
    hundred_cell,
    hundred_interval_cell,
)
from lengthwise.report.tables import figure, text
from lengthwise.report.wording import name_of, period_words

LEVELS = ("short", "within", "beyond", "not_assessable")


def fill_overall(run_data: RunData) -> str:
    """Return the share at each level over all fillings, with what the film cannot show."""
    rows = run_data.select(section="fill", measure="share")
    if rows.empty:
        return NOT_ANALYSED
    cells = [
        (
            name_of(row["subject"]),
            counts_cell(row),
            hundred_cell(row),
            hundred_interval_cell(row),
        )
        for _, row in rows.iterrows()
    ]
    columns = (text("Level"), figure("Fillings"), figure("Per 100"), figure("95% interval"))
    period = period_words(rows.iloc[0]["period"])
    caption = f"Where fillings end, preset {run_data.setting('preset')}, {period}"
