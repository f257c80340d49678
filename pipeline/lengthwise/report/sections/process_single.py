"""Rare events as cases between them, and monthly means in mm."""

from lengthwise.report import escape
from lengthwise.report.figures import place
from lengthwise.report.figures.single_values import KINDS, NAMES, single_values
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import NOT_ANALYSED
from lengthwise.report.wording import criterion_name, sentence

NOTE = (
    "Where a month has too few events for limits of a share, the cases that lie between events "
    "are shown instead. A long stretch without an event is a signal; a short one is not, since "
    "the lower limit is 0. The day of a case is not kept, so cases of one month stand in the "
    "order of their keys.\n"
)


def single_value_charts(run_data: RunData) -> str:
    """Return the charts that have limits, then why the others have none."""
    rows = run_data.select(analysis="B3")
    rows = rows[rows["measure"].isin([f"{kind[0]}_outside" for kind in KINDS.values()])]
    if rows.empty:
        return NOT_ANALYSED
    parts = [
        place(
            single_values(run_data, kind, str(panel)), f"{kind[:5]}-{escape.slug(str(panel))}"
        )
        for kind in KINDS
        for panel in dict.fromkeys(run_data.plotted(kind)["panel"])
    ]
    refused = [
        f"{NAMES.get(row['subject']) or criterion_name(run_data, row['subject'])}: {row['reason']}"
        for _, row in rows[~rows["valid"]].iterrows()
    ]
    told = [escape.markdown(sentence(text)) for text in refused]
    return "\n\n".join(part for part in (*parts, *told, NOTE) if part)
