"""Points with intervals by name, in one or two panels: own errors, repeats, conditions."""

from dataclasses import dataclass
from typing import Any

import pandas as pd

from lengthwise.report.theme import BLACK, BLUE, GREY, started


@dataclass(frozen=True, slots=True)
class Panel:
    """A panel's title and the value at which a line is drawn (none where NaN)."""

    title: str
    line: float


def interval_panels(frame: pd.DataFrame, panels: tuple[Panel, ...], names: list[str]) -> Any:
    """Return the plot of `frame` with columns name, panel, estimate, lower, upper, kind.

    `kind` "second" (crude values, say) is drawn hollow and under the first. Names run from
    the top in the order given.
    """
    from plotnine import (
        aes,
        facet_wrap,
        geom_point,
        geom_segment,
        geom_vline,
        labs,
        scale_fill_manual,
        scale_shape_manual,
    )

    titles = [panel.title for panel in panels]
    place = {name: len(names) - position for position, name in enumerate(names)}
    lift = {"first": 0.12, "second": -0.16} if (frame["kind"] == "second").any() else {}
    drawn = frame.assign(
        panel=pd.Categorical(frame["panel"], categories=titles),
        height=frame["name"].map(place) + frame["kind"].map(lift).fillna(0.0).astype(float),
    )
    lines = pd.DataFrame(
        {"panel": pd.Categorical(titles, categories=titles), "at": [p.line for p in panels]}
    ).dropna()
    plot = started(drawn, aes(x="estimate", y="height"))
    if len(lines):
        plot = plot + geom_vline(aes(xintercept="at"), lines, color=GREY, size=0.4)
    return (
        plot
        + geom_segment(
            aes(x="lower", xend="upper", yend="height"),
            drawn.dropna(subset=["lower", "upper"]), color=BLUE, size=1.1,
        )
        + geom_point(aes(shape="kind", fill="kind"), color=BLACK, size=2.2)
        + scale_shape_manual(values={"first": "o", "second": "o"})
        + scale_fill_manual(values={"first": BLACK, "second": "#FFFFFF"})
        + facet_wrap("panel", scales="free_x", ncol=len(panels))
        + _heights(place)
        + labs(x="", y="")
    )  # fmt: skip


def _heights(place: dict[str, int]) -> Any:
    from plotnine import scale_y_continuous

    return scale_y_continuous(
        breaks=list(place.values()), labels=list(place), limits=(0.5, len(place) + 0.5)
    )
