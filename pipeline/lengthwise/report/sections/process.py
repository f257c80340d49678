"""Criteria over months and over units: run charts and funnels."""

from lengthwise.report import escape
from lengthwise.report.figures import funnel, place, run_chart
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import NOT_ANALYSED


def process_charts(run_data: RunData) -> str:
    """Return a run chart for each criterion that has one, then the funnels."""
    runs = dict.fromkeys(run_data.plotted("run_chart")["panel"])
    funnels = dict.fromkeys(run_data.plotted("funnel")["panel"])
    parts = [
        *(place(run_chart(run_data, name), f"run-{escape.slug(name)}") for name in runs),
        *(place(funnel(run_data, name), f"funnel-{escape.slug(name)}") for name in funnels),
    ]
    return "\n".join(part for part in parts if part) or NOT_ANALYSED
