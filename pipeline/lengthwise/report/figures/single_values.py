"""Single values in the order of time with a centre and limits: cases between events, means."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, GREY, started
from lengthwise.report.wording import criterion_name, number, sentence

NAMES = {
    "incident": "an adverse event",
    "fill_offset_mm": "mean end of filling",
    "electronic_difference_mm": "mean of electronic minus confirmed length",
}
KINDS = {
    # figure: (series in the estimates, unit of the axis, what a point is, decimals)
    "cases_between": ("g", "Cases between events", "Cases since the event before (g chart)", 0),
    "individuals": ("xmr", "mm", "Mean of each month (individuals chart)", 2),
}


def single_values(run_data: RunData, kind: str, panel: str) -> Figure | None:
    """Return the chart of one measure, or None where it has no limits.

    Points of the figure `kind` have the series `value` (y with lower and upper) and `centre`;
    the estimate B3 `<series>_outside` says which points lie outside.
    """
    series, axis, what, decimals = KINDS[kind]
    points = run_data.plotted(kind, panel)
    values, centre = (points[points["series"] == name] for name in ("value", "centre"))
    values = values.dropna(subset=["y"])
    rows = run_data.select(analysis="B3", subject=panel)
    rows = rows[rows["measure"].isin([f"{series}_outside", f"{series}_centre"])]
    if values.empty or rows.empty:
        return None
    name = NAMES.get(panel) or criterion_name(run_data, panel)
    first = rows.iloc[0]
    said = "" if first["estimate"] else "no point lies outside the limits"
    said = "; ".join(part for part in (said, first["reason"]) if part)
    span = f"{values['label'].iloc[0]} to {values['label'].iloc[-1]}"
    low, high = (number(value, decimals) for value in (values["y"].min(), values["y"].max()))
    return Figure(
        plot=_draw(values, centre, axis),
        headline=sentence(f"{name}: {said}"),
        subtitle=f"{what}; {span}, {len(values)} points. Dashed: limits; dotted: centre.",
        alt_text=f"Line of {len(values)} points, {span}: lowest {low}, highest {high}.",
        result_ids=tuple(rows["result_id"]),
        height_inch=2.8,
    )


def _draw(values: pd.DataFrame, centre: pd.DataFrame, axis: str) -> Any:
    from plotnine import (
        aes,
        element_text,
        geom_line,
        geom_point,
        labs,
        scale_x_continuous,
        theme,
    )

    ticks = values.iloc[:: max(1, len(values) // 9)]
    return (
        started(values, aes("x", "y"))
        + geom_line(aes(y="lower"), color=BLUE, linetype="dashed")
        + geom_line(aes(y="upper"), color=BLUE, linetype="dashed")
        + geom_line(aes("x", "y"), centre, color=GREY, linetype="dotted")
        + geom_line(color=GREY)
        + geom_point(color=BLACK, size=2)
        + scale_x_continuous(breaks=list(ticks["x"]), labels=list(ticks["label"]))
        + labs(x="", y=axis)
        + theme(axis_text_x=element_text(rotation=45, ha="right"))
    )
