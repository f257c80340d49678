"""Filling levels: all fillings, and by quarter, clinician or tooth type."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.cautions import FILM_LIMIT
from lengthwise.report.figures import fill_levels, place
from lengthwise.report.figures.fill_levels import KIND_NAMES
from lengthwise.report.figures.fill_offsets import fill_offsets
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    counts_cell,
    hundred_cell,
    hundred_interval_cell,
    value_cell,
    warnings_note,
)
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import name_of, period_words, with_interval

FURTHER = ("site", "treatment_type", "canal", "month")
SPREAD = ("mean", "sd", "lower_quartile", "median", "upper_quartile")
LEVELS = ("short", "within", "beyond", "not_assessable")
MEASURES = ("share", "count")


def fill_overall(run_data: RunData) -> str:
    """Return the share at each level by period, with what the film cannot show."""
    rows = run_data.select(section="fill")
    rows = rows[rows["measure"].isin(MEASURES)]
    if rows.empty:
        return NOT_ANALYSED
    cells = [
        (
            name_of(row["subject"]),
            period_words(row["period"]),
            _fillings(row),
            hundred_cell(row) if row["measure"] == "share" else "",
            hundred_interval_cell(row) if row["measure"] == "share" else "",
        )
        for _, row in rows.iterrows()
    ]
    columns = (
        text("Level or finding"),
        text("Period"),
        figure("Fillings"),
        figure("Per 100"),
        figure("95% interval"),
    )
    caption = f"Where fillings end, preset {run_data.setting('preset')}"
    table = pipe_table(
        columns, cells, caption=caption, label="fill-levels", ids=rows["result_id"]
    )
    return f"{table}\n{FILM_LIMIT}\n\n{warnings_note(rows)}\n"


def _fillings(row: Row) -> str:
    return value_cell(row, 0) if row["measure"] == "count" else counts_cell(row)


def fill_by(run_data: RunData, kind: str) -> str:
    """Return the figure and the table of one kind of stratum."""
    table = _stratum_table(run_data, kind)
    if not table:
        return NOT_ANALYSED
    parts = (place(fill_levels(run_data, kind), f"fill-by-{escape.slug(kind)}"), table)
    return "\n".join(part for part in parts if part)


def _stratum_table(run_data: RunData, kind: str) -> str:
    rows = run_data.select(section="fill", stratum_kind=kind)
    rows = rows[rows["measure"].isin(MEASURES)]
    if rows.empty:
        return ""
    name = KIND_NAMES.get(kind, name_of(kind))
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
    return pipe_table(
        columns,
        cells,
        caption=caption,
        label=f"fill-by-{escape.slug(kind)}",
        ids=rows["result_id"],
    )


def fill_further(run_data: RunData) -> str:
    """Return the tables by site, treatment type, canal and month, without figures."""
    parts = [_stratum_table(run_data, kind) for kind in FURTHER]
    return "\n".join(part for part in parts if part) or NOT_ANALYSED


def fill_spread(run_data: RunData) -> str:
    """Return where fillings end in mm: the histogram, then mean, spread and quartiles."""
    rows = run_data.select(section="fill", subject="fill_offset")
    if rows.empty:
        return NOT_ANALYSED
    periods = [own.set_index("measure") for _, own in rows.groupby("period", sort=False)]
    cells = [
        (
            period_words(own["period"].iloc[0]),
            str(int(own["n_used"].iloc[0])),
            with_interval(own.loc["mean"]),
            *(value_cell(own.loc[name]) if name in own.index else "" for name in SPREAD[1:]),
        )
        for own in periods
    ]
    columns = (
        text("Period"), figure("Fillings"), figure("Mean (95%)"), figure("SD"),
        figure("Lower quartile"), figure("Median"), figure("Upper quartile"),
    )  # fmt: skip
    caption = "End of fillings against the radiographic apex (mm; above 0 is beyond)"
    drawn = place(fill_offsets(run_data), "fill-offsets")
    label = "fill-offsets-table"
    table = pipe_table(columns, cells, caption=caption, label=label, ids=rows["result_id"])
    return "\n".join(part for part in (drawn, table, _without_mm(rows)) if part)


def _without_mm(rows: pd.DataFrame) -> str:
    """Return how many fillings have their level in words only, or ''."""
    without = int(rows["n_missing"].max())
    if not without:
        return ""
    return f"\n{without} more fillings have their level in words only: they are not in these figures.\n"


def _levels(rows: pd.DataFrame) -> tuple[str, ...]:
    by_level = {row["subject"]: row for _, row in rows.iterrows()}
    found = (by_level.get(level) for level in LEVELS)
    counts = tuple("" if row is None else _fillings(row) for row in found)
    within = by_level.get("within")
    return (*counts, hundred_cell(within), hundred_interval_cell(within))
