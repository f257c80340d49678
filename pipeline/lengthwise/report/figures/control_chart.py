"""A share by month within limits that carry the variation between months."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, GREY, axis_breaks, axis_top, started
from lengthwise.report.wording import criterion_name, in_hundred, sentence


def control_chart(run_data: RunData, panel: str) -> Figure | None:
    """Return the p' chart of one measure, or None where it has no limits.

    Points have the series `p_prime` (y with lower and upper); the estimate B3
    `p_prime_outside` holds the months outside and the cautions in words.
    """
    points = run_data.plotted("control_chart", panel)
    centre = points[points["series"] == "p_prime_centre"].dropna(subset=["y"])
    points = points[points["series"] == "p_prime"].dropna(subset=["y"])
    rows = run_data.select(analysis="B3", subject=panel)
    told = rows[rows["measure"] == "p_prime_outside"]
    if points["lower"].isna().all() or told.empty:
        return None
    name = criterion_name(run_data, panel)
    outside = points[(points["y"] < points["lower"]) | (points["y"] > points["upper"])]
    said = told.iloc[0]["reason"] or "no month lies outside the limits"
    months = f"{points['label'].iloc[0]} to {points['label'].iloc[-1]}"
    return Figure(
        plot=_draw(points, centre, outside),
        headline=sentence(f"{name}: {said}"),
        subtitle=(
            f"Share per month with limits that also carry the variation between months "
            f"(p' chart); {months}, {len(points)} months, n = {int(points['n'].sum())}. "
            "Dashed: limits; dotted: centre."
        ),
        alt_text=(
            f"Line of {len(points)} monthly shares per 100, {months}: lowest "
            f"{in_hundred(points['y'].min())}, highest {in_hundred(points['y'].max())}; "
            f"{len(outside)} outside the limits."
        ),
        result_ids=tuple(rows["result_id"]),
        height_inch=2.05,
    )


def _segments(points: pd.DataFrame, centre: pd.DataFrame) -> list[int]:
    """Number, for each point, the stretch of one centre that it lies in, from 0."""
    starts = centre.loc[centre["y"].diff().ne(0) | centre["x"].diff().gt(1), "x"]
    return [int((starts <= x).sum()) for x in points["x"]]


def _draw(points: pd.DataFrame, centre: pd.DataFrame, outside: pd.DataFrame) -> Any:
    from plotnine import (
        aes,
        element_text,
        geom_line,
        geom_point,
        geom_step,
        labs,
        scale_x_continuous,
        scale_y_continuous,
        theme,
    )

    shown = points.assign(**{name: 100 * points[name] for name in ("y", "lower", "upper")})
    # A new baseline starts new limits: the lines of the earlier one end there.
    limited = shown.assign(segment=_segments(points, centre)).dropna(subset=["lower"])
    middle = centre.assign(y=100 * centre["y"], segment=_segments(centre, centre))
    top = axis_top(pd.concat([shown["y"], shown["upper"]]))
    ticks = points.iloc[:: max(1, len(points) // 9)]
    return (
        started(shown, aes("x", "y"))
        + geom_line(aes(group="segment"), middle, color=GREY, linetype="dotted")
        + geom_step(aes(y="lower", group="segment"), limited, color=BLUE, linetype="dashed")
        + geom_step(aes(y="upper", group="segment"), limited, color=BLUE, linetype="dashed")
        + geom_line(color=GREY)
        + geom_point(color=BLACK, size=2)
        + geom_point(data=outside.assign(y=100 * outside["y"]), color=BLACK, size=4, shape="D")
        + scale_x_continuous(breaks=list(ticks["x"]), labels=list(ticks["label"]))
        + scale_y_continuous(limits=(0, top), breaks=axis_breaks(top))
        + labs(x="", y="Per 100")
        + theme(axis_text_x=element_text(rotation=45, ha="right"))
    )
