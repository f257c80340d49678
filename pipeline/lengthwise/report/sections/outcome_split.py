"""Outcome by level within groups of teeth: lesion and state of the pulp."""

from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    counts_cell,
    hundred_cell,
    hundred_interval_cell,
)
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import name_of, period_words

KINDS = ("lesion", "pulp")
COLUMNS = (
    text("Before treatment"),
    text("Level"),
    figure("Not healed"),
    figure("Per 100"),
    figure("95% interval"),
)


def outcome_split(run_data: RunData) -> str:
    """Return the crude shares by level, apart for lesion and for state of the pulp."""
    cells, ids, period = [], [], ""
    for kind in KINDS:
        rows = run_data.select(
            section="outcome", analysis="C1", measure="share_not_healed", stratum_kind=kind
        )
        ids += list(rows["result_id"])
        for _, row in rows.iterrows():
            period = str(row["period"])
            shown = (counts_cell(row), hundred_cell(row), hundred_interval_cell(row))
            cells.append((name_of(row["stratum"]), name_of(row["subject"]), *shown))
    if not cells:
        return NOT_ANALYSED
    caption = f"Teeth not healed by level, within groups, crude, {period_words(period)}"
    note = (
        "Vital pulps and infected canals are shown apart, since one preset need not suit both. "
        "Groups are small; a difference between groups is not tested."
    )
    table = pipe_table(COLUMNS, cells, caption=caption, label="outcome-split", ids=ids)
    return f"{table}\n\n{note}\n"
