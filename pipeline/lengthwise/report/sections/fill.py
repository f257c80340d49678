"""Filling levels: all fillings, and by quarter, clinician or tooth type."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.cautions import FILM_LIMIT
from lengthwise.report.figures import fill_levels, place
from lengthwise.report.figures.fill_levels import KIND_NAMES
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    counts_cell,
    hundred_cell,
    hundred_interval_cell,
    warnings_note,
)
from lengthwise.report.tables import figure, pipe_table, text
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
    table = pipe_table(columns, cells, caption=caption, label="fill-levels")
    return f"{table}\n{FILM_LIMIT}\n\n{warnings_note(rows)}\n"


def fill_by(run_data: RunData, kind: str) -> str:
    """Return the figure and the table of one kind of stratum."""
    rows = run_data.select(section="fill", measure="share", stratum_kind=kind)
    if rows.empty:
        return NOT_ANALYSED
    name = KIND_NAMES.get(kind, name_of(kind))
    label = f"fill-by-{escape.slug(kind)}"
    cells = [
        (name_of(str(stratum)), *_levels(own))
        for stratum, own in rows.groupby("stratum", sort=False)
    ]
    columns = (
        text(name.capitalize()),
        *(figure(f"{name_of(level).capitalize()}") for level in LEVELS),
        figure("Within, per 100"),
        figure("95% interval"),
    )
    caption = f"Fillings by level and {name}, preset {run_data.setting('preset')}"
    table = pipe_table(columns, cells, caption=caption, label=label)
    parts = (place(fill_levels(run_data, kind), label), table)
    return "\n".join(part for part in parts if part)


def _levels(rows: pd.DataFrame) -> tuple[str, ...]:
    by_level = {row["subject"]: row for _, row in rows.iterrows()}
    counts = tuple(counts_cell(by_level.get(level)) for level in LEVELS)
    within = by_level.get("within")
    return (*counts, hundred_cell(within), hundred_interval_cell(within))
