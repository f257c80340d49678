"""Differences of one method from another over their mean, with limits and their intervals."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, GREY
from lengthwise.report.wording import bias_phrase, name_of, number, sentence

LINES = ("bias", "lower_limit", "upper_limit")
LINE_NAMES = {"bias": "bias", "lower_limit": "lower limit", "upper_limit": "upper limit"}


def bland_altman(run_data: RunData, method: str, reference: str = "confirmed") -> Figure | None:
    """Return the figure, or None where points or valid limits are absent."""
    points = run_data.plotted("bland_altman", method).dropna(subset=["x", "y"])
    rows = run_data.select(section="agreement", subject=method, reference=reference)
    lines = rows[rows["measure"].isin(LINES) & rows["valid"]].set_index("measure")
    if points.empty or set(lines.index) != set(LINES):
        return None
    tolerance = float(run_data.setting("thresholds", "tolerance_mm", default=0.5))
    bias = lines.loc["bias"]
    return Figure(
        plot=_draw(points, lines, tolerance, method, reference),
        headline=sentence(bias_phrase(bias, method, reference)),
        subtitle=_subtitle(bias, method, reference, tolerance),
        alt_text=_alternative(points, lines, method, reference),
        result_ids=tuple(lines["result_id"]),
        height_inch=4.2,
    )


def _subtitle(bias: pd.Series, method: str, reference: str, tolerance: float) -> str:
    return (
        f"Difference in length, {name_of(method)} minus {name_of(reference)}, over the mean of "
        f"both; canals, {bias['period']}, n = {int(bias['n_used'])}, missing "
        f"{int(bias['n_missing'])}. Lines: bias and 95% limits of agreement with their 95% "
        f"intervals as bands; dotted: the tolerance of {number(tolerance, 1)} mm either side."
    )


def _alternative(points: pd.DataFrame, lines: pd.DataFrame, method: str, reference: str) -> str:
    bias, lower, upper = (number(lines.loc[key, "estimate"], signed=True) for key in LINES)
    return (
        f"Scatter of {len(points)} differences in mm between {name_of(method)} and "
        f"{name_of(reference)} over their mean. Bias {bias} mm; limits of agreement {lower} "
        f"to {upper} mm; differences run from {number(points['y'].min(), signed=True)} to "
        f"{number(points['y'].max(), signed=True)} mm."
    )


def _line_frame(lines: pd.DataFrame, right: float) -> pd.DataFrame:
    frame = lines.loc[list(LINES), ["estimate", "lower", "upper"]].copy()
    frame["name"] = [
        f"{LINE_NAMES[key]}\n{number(value, signed=True)} mm"
        for key, value in frame["estimate"].items()
    ]
    frame["right"] = right
    return frame.reset_index()


def _draw(
    points: pd.DataFrame, lines: pd.DataFrame, tolerance: float, method: str, reference: str
) -> Any:
    from plotnine import (
        aes,
        annotate,
        geom_hline,
        geom_point,
        geom_text,
        ggplot,
        labs,
        scale_x_continuous,
    )

    left, right = points["x"].min(), points["x"].max()
    width = max(right - left, 1.0)
    frame = _line_frame(lines, right + 0.03 * width)
    bands = [
        annotate(
            "rect",
            xmin=left - 0.05 * width,
            xmax=right + 0.02 * width,
            ymin=row["lower"],
            ymax=row["upper"],
            fill=BLUE,
            alpha=0.2,
        )
        for _, row in frame.dropna(subset=["lower", "upper"]).iterrows()
    ]
    limits = frame[frame["measure"] != "bias"]
    return (
        ggplot(points, aes("x", "y"))
        + bands
        + geom_hline(yintercept=[-tolerance, tolerance], linetype="dotted", color=GREY)
        + geom_hline(yintercept=0, color=GREY, size=0.4)
        + geom_point(color=BLACK, fill="none", shape="o", size=1.6, alpha=0.75)
        + geom_hline(aes(yintercept="estimate"), limits, linetype="dashed", color=BLUE)
        + geom_hline(yintercept=lines.loc["bias", "estimate"], color=BLUE, size=0.9)
        + geom_text(
            aes("right", "estimate", label="name"), frame, ha="left", size=8, color=BLACK
        )
        + scale_x_continuous(limits=(left - 0.05 * width, right + 0.22 * width))
        + labs(
            x=f"Mean of {name_of(method)} and {name_of(reference)} (mm)",
            y="Difference (mm)",
        )
    )
