"""Odds of not healing along the offset of the filling, with a band."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLUE, GREY, started
from lengthwise.report.wording import number, period_words, sentence

# Wider bands say only that there are too few teeth; cutting them keeps the curve readable.
SHOWN_FROM, SHOWN_TO = 0.1, 10.0


def dose_response(run_data: RunData) -> Figure | None:
    """Return the figure, or None where the run holds no curve."""
    points = run_data.plotted("dose_response")
    if points.empty:
        return None
    rows = run_data.select(section="outcome", analysis="C5", measure="odds_ratio_per_mm")
    period = rows.iloc[0]["period"] if len(rows) else run_data.run["period"]
    return Figure(
        plot=_draw(points),
        headline=_headline(points),
        subtitle=(
            "Odds of not healed along the offset of the canal that gave the tooth its level, "
            f"{points.iloc[0]['label']}; negative = short of the radiographic apex; "
            f"{period_words(period)}, n = {int(points.iloc[0]['n'])} teeth. "
            "Band: 95% interval, point by point."
        ),
        alt_text="Curve with a band, odds ratio by offset in mm. " + _ends(points),
        result_ids=tuple(rows["result_id"]),
        height_inch=2.7,
    )


def _ends(points: pd.DataFrame) -> str:
    said = []
    for _, row in points.iloc[[0, -1]].iterrows():
        ends = f"{number(row['lower'])} to {number(row['upper'])}"
        said.append(f"at {number(row['x'], 1, signed=True)} mm {number(row['y'])} ({ends})")
    return sentence("; ".join(said))


def _headline(points: pd.DataFrame) -> str:
    apart = points[(points["lower"] > 1) | (points["upper"] < 1)]
    if apart.empty:
        return sentence("At no offset do the odds of not healed differ clearly from within")
    ends = (number(value, 1, signed=True) for value in (apart["x"].min(), apart["x"].max()))
    first, last = ends
    if first == last:
        return sentence(f"The odds of not healed differ from within at {first} mm")
    return sentence(
        f"Of offsets from {first} to {last} mm, {len(apart)} of {len(points)} points on the "
        "curve differ clearly from within"
    )


def _draw(points: pd.DataFrame) -> Any:
    from plotnine import aes, geom_hline, geom_line, geom_ribbon, labs, scale_y_log10

    frame = points.copy()
    for column in ("y", "lower", "upper"):
        frame[column] = frame[column].astype(float).clip(SHOWN_FROM, SHOWN_TO)
    return (
        started(frame, aes("x", "y"))
        + geom_hline(yintercept=1.0, color=GREY)
        + geom_ribbon(aes(ymin="lower", ymax="upper"), fill=BLUE, alpha=0.2)
        + geom_line(color=BLUE, size=0.9)
        + scale_y_log10(
            limits=(SHOWN_FROM, SHOWN_TO), breaks=[0.1, 0.2, 0.5, 1, 2, 5, 10],
            labels=["0.1", "0.2", "0.5", "1", "2", "5", "10"],
        )
        + labs(x="Offset of the filling (mm)", y="Odds ratio of not healed")
    )  # fmt: skip
