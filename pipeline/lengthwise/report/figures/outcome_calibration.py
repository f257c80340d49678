"""Shares of not healed that the adjusted model expects, against those seen."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, GREY, started
from lengthwise.report.wording import in_hundred, period_words, sentence


def outcome_calibration(run_data: RunData) -> Figure | None:
    """Return the figure, or None where the run holds no adjusted model."""
    points = run_data.plotted("outcome_calibration")
    if points.empty:
        return None
    rows = run_data.select(section="outcome", analysis="C2", measure="seen_share")
    period = rows.iloc[0]["period"] if len(rows) else run_data.run["period"]
    return Figure(
        plot=_draw(points),
        headline=_headline(points),
        subtitle=(
            "Teeth not healed per 100, seen against expected by the adjusted model, in fifths "
            f"of expected risk; {period_words(period)}, n = {int(points['n'].sum())} teeth. "
            "Bars: 95% intervals. On the line, seen equals expected."
        ),
        alt_text="Points with intervals about a diagonal line. "
        + "; ".join(_words(row) for _, row in points.iterrows())
        + ".",
        result_ids=tuple(rows["result_id"]),
        height_inch=2.9,
    )


def _words(row: pd.Series) -> str:
    ends = f"{in_hundred(row['lower'])} to {in_hundred(row['upper'])}"
    return f"expected {in_hundred(row['x'])} in 100, seen {in_hundred(row['y'])} ({ends})"


def _headline(points: pd.DataFrame) -> str:
    inside = (points["lower"] <= points["x"]) & (points["x"] <= points["upper"])
    return sentence(
        f"In {int(inside.sum())} of {len(points)} groups the interval of the share seen holds "
        "the share expected"
    )


def _draw(points: pd.DataFrame) -> Any:
    from plotnine import aes, coord_cartesian, geom_abline, geom_point, geom_segment, labs

    frame = points.copy()
    for column in ("x", "y", "lower", "upper"):
        frame[column] = 100 * frame[column].astype(float)
    end = min(100.0, 5.0 + float(frame[["x", "upper"]].to_numpy().max()))
    return (
        started(frame, aes("x", "y"))
        + geom_abline(intercept=0.0, slope=1.0, color=GREY)
        + geom_segment(aes(xend="x", y="lower", yend="upper"), color=BLUE, size=0.9)
        + geom_point(color=BLACK, size=2.6)
        + coord_cartesian(xlim=(0, end), ylim=(0, end))
        + labs(x="Expected not healed per 100 teeth", y="Seen not healed per 100 teeth")
    )
