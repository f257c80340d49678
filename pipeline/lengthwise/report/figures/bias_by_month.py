"""Bias of each method against the confirmed length, month by month."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, GREY, started
from lengthwise.report.wording import name_of, number, sentence

MONTHS_AT_LEAST = 3


def bias_by_month(run_data: RunData) -> Figure | None:
    """Return one panel per method with at least three months, or None."""
    points = run_data.plotted("bias_by_month").dropna(subset=["y"])
    months = points.groupby("panel")["label"].transform("size")
    points = points[months >= MONTHS_AT_LEAST]
    if points.empty:
        return None
    labels = points.drop_duplicates("x").sort_values("x")
    panels = points["panel"].nunique()
    return Figure(
        plot=_draw(points, labels),
        headline=_headline(run_data, points),
        subtitle=(
            "Mean difference from the confirmed length (mm), by month of treatment; bars: 95% "
            "intervals by patient. Months with too few canals are left out."
        ),
        alt_text=(
            f"{panels} panels of points by month from {labels['label'].iloc[0]} to "
            f"{labels['label'].iloc[-1]}: "
            + "; ".join(_spoken(name, one) for name, one in points.groupby("panel", sort=False))
            + "."
        ),
        result_ids=(),
        height_inch=0.8 + 0.95 * ((panels + 1) // 2),
    )


def _headline(run_data: RunData, points: pd.DataFrame) -> str:
    """Count the months whose interval leaves out the method's bias over all months."""
    rows = run_data.select(section="agreement", reference="confirmed", measure="bias")
    whole = points["panel"].map(
        rows.drop_duplicates("subject").set_index("subject")["estimate"]
    )
    apart = int(((points["lower"] > whole) | (points["upper"] < whole)).sum())
    return sentence(
        f"In {apart} of {len(points)} monthly values the interval leaves out the method's bias "
        f"over all months; about {len(points) / 20:.0f} would by chance"
    )


def _spoken(name: Any, own: pd.DataFrame) -> str:
    low, high = (number(value, signed=True) for value in (own["y"].min(), own["y"].max()))
    return f"{name_of(str(name))} {low} to {high} mm"


def _draw(points: pd.DataFrame, labels: pd.DataFrame) -> Any:
    from plotnine import (
        aes,
        facet_wrap,
        geom_hline,
        geom_linerange,
        geom_point,
        labs,
        scale_x_continuous,
    )

    names = [name_of(code) for code in dict.fromkeys(points["panel"])]
    frame = points.assign(name=pd.Categorical(points["panel"].map(name_of), categories=names))
    shown = labels.iloc[:: max(1, len(labels) // 4)]
    return (
        started(frame, aes("x", "y"))
        + geom_hline(yintercept=0, color=GREY, size=0.4)
        + geom_linerange(aes(ymin="lower", ymax="upper"), color=BLUE, size=0.8)
        + geom_point(color=BLACK, size=1.3)
        + facet_wrap("name", ncol=2)
        + scale_x_continuous(breaks=shown["x"].tolist(), labels=shown["label"].tolist())
        + labs(x="", y="Bias (mm)")
    )
