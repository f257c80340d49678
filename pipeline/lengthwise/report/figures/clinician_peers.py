"""A clinician's own shares beside the target and beside the others, who have no names."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.clinician_trend import short_titles
from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, DARK_GREY, WHITE, started
from lengthwise.report.wording import criterion_name, in_hundred, period_words, sentence

NAME_LETTERS, NAME_LINES = 60, 2


def clinician_peers(run_data: RunData, criteria: list[str]) -> Figure | None:
    """Return target, own share and peers' points, or None where peers are not shown.

    Points of the figure `peers` hold the others' shares, without code and number of cases.
    """
    own = run_data.select(analysis="B5", measure="share")
    own = own[own["subject"].isin(criteria) & own["valid"]]
    points = run_data.plotted("peers")
    shown = [
        name for name in criteria
        if name in set(own["subject"]) and name in set(points["panel"])
    ]  # fmt: skip
    if not shown:
        return None
    own, points = own[own["subject"].isin(shown)], points[points["panel"].isin(shown)]
    spans = " ".join(_span(run_data, own, points, name) for name in shown)
    return Figure(
        plot=_draw(run_data, own, points, shown),
        headline="Your share, the target, and your colleagues without names.",
        subtitle=(
            f"Per 100 of the cases, {period_words(str(own.iloc[0]['period']))}; n = "
            f"{int(own['denominator'].sum())} of your cases. Diamond with line: yours with its "
            "95% interval; bar: target; open circles: colleagues with enough cases."
        ),
        alt_text=f"Dot plot, one line per criterion, per 100. {spans}",
        result_ids=tuple(own["result_id"]),
        height_inch=0.5 + 0.23 * len(shown),
    )


def _span(run_data: RunData, own: pd.DataFrame, points: pd.DataFrame, name: str) -> str:
    row = own[own["subject"] == name].iloc[0]
    others = points.loc[points["panel"] == name, "y"]
    target = "" if pd.isna(row["target"]) else f", target {in_hundred(row['target'])}"
    return sentence(
        f"{criterion_name(run_data, name).rstrip('.')}: yours {in_hundred(row['estimate'])}"
        f"{target}, {len(others)} colleagues from {in_hundred(others.min())} to "
        f"{in_hundred(others.max())}"
    )


def _draw(run_data: RunData, own: pd.DataFrame, points: pd.DataFrame, shown: list[str]) -> Any:
    from plotnine import (
        aes,
        element_text,
        geom_point,
        geom_segment,
        labs,
        scale_x_continuous,
        scale_y_continuous,
        theme,
    )

    place = {name: float(len(shown) - position) for position, name in enumerate(shown)}
    names = list(short_titles(run_data, shown, NAME_LETTERS, NAME_LINES).values())
    mine = own.assign(
        height=own["subject"].map(place), x=100 * own["estimate"], low=100 * own["lower"],
        high=100 * own["upper"], target=100 * own["target"],
    )  # fmt: skip
    mine = mine.assign(under=mine["height"] - 0.32, over=mine["height"] + 0.32)
    others = points.assign(height=points["panel"].map(place), x=100 * points["y"])
    aimed, ranged = mine.dropna(subset=["target"]), mine.dropna(subset=["low", "high"])
    return (
        started(mine, aes("x", "height"))
        + geom_point(data=others, shape="o", fill=WHITE, color=DARK_GREY, size=2.4)
        + geom_segment(
            aes(x="target", xend="target", y="under", yend="over"), aimed, color=BLUE, size=1.2
        )
        + geom_segment(aes(x="low", xend="high", yend="height"), ranged, color=BLACK, size=0.7)
        + geom_point(shape="D", fill=BLACK, color=BLACK, size=2.2)
        + scale_x_continuous(limits=(0, 100), breaks=range(0, 101, 25))
        + scale_y_continuous(
            breaks=list(place.values()), labels=names, limits=(0.5, len(shown) + 0.5)
        )
        + labs(x="Per 100", y="")
        + theme(
            axis_text_y=element_text(size=7.5), axis_text_x=element_text(size=7.5),
            axis_title_x=element_text(size=8),
        )
    )  # fmt: skip
