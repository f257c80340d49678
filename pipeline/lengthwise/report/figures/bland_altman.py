"""Differences of one method from another over their mean, with limits and their intervals."""

from typing import Any

import numpy as np
import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.theme import BLACK, BLUE, GREY, started
from lengthwise.report.wording import bias_phrase, name_of, number, period_words, sentence

# With fewer points a density shows the smoothing rather than the data.
DENSITY_FROM = 20
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
        subtitle=_subtitle(bias, method, reference, tolerance) + _drawn(points),
        alt_text=_alternative(points, lines, method, reference),
        result_ids=tuple(lines["result_id"]),
        height_inch=3.2,
    )


def _subtitle(bias: Row, method: str, reference: str, tolerance: float) -> str:
    return (
        f"Difference in length, {name_of(method)} minus {name_of(reference)}, over the mean of "
        f"both; canals, {period_words(bias['period'])}, n = {int(bias['n_used'])}, missing "
        f"{int(bias['n_missing'])}. Lines: bias and 95% limits of agreement with their 95% "
        f"intervals as bands; dotted: the tolerance of {number(tolerance, 1)} mm either side; "
        "at the right how the differences are spread."
    )


def _drawn(points: pd.DataFrame) -> str:
    """Say how many points stand for how many canals, where not all are drawn."""
    whole = points["n"].max()
    if pd.isna(whole) or whole <= len(points):
        return ""
    return f" A sample of {len(points)} of the {int(whole)} canals is drawn."


def _alternative(points: pd.DataFrame, lines: pd.DataFrame, method: str, reference: str) -> str:
    bias, lower, upper = (number(lines["estimate"][key], signed=True) for key in LINES)
    return (
        f"Scatter of {len(points)} differences in mm between {name_of(method)} and "
        f"{name_of(reference)} over their mean. Bias {bias} mm; limits of agreement {lower} "
        f"to {upper} mm; differences run from {number(points['y'].min(), signed=True)} to "
        f"{number(points['y'].max(), signed=True)} mm."
    )


def _line_frame(lines: pd.DataFrame, left: float, right: float) -> pd.DataFrame:
    frame = lines.loc[list(LINES), ["estimate", "lower", "upper"]].copy()
    frame["name"] = [
        f" {LINE_NAMES[str(key)]}\n {number(value, signed=True)} mm"
        for key, value in frame["estimate"].items()
    ]
    frame["left"], frame["right"] = left, right
    return frame.reset_index()


def _guides(tolerance: float, left: float, right: float) -> pd.DataFrame:
    return pd.DataFrame(
        {
            **{"height": [-tolerance, 0.0, tolerance], "left": left, "right": right},
            "line": ["tolerance", "nought", "tolerance"],
        }
    )


def opacity(count: int) -> float:
    """Return how opaque a point is: the more points overlap, the lighter each."""
    return float(min(0.75, max(0.12, 150 / count)))


def _outline(values: pd.Series, foot: float, reach: float) -> pd.DataFrame:
    """Return the outline of the differences' density, standing on x = `foot`.

    A histogram in steps of 0.05 mm, smoothed over a width that falls as canals grow in number.
    """
    low, high = float(values.min()), float(values.max())
    counts, edges = np.histogram(
        values, bins=max(int((high - low) / 0.05), 10), range=(low, high)
    )
    middle = (edges[:-1] + edges[1:]) / 2
    width = max(0.9 * float(values.std()) * len(values) ** -0.2, 0.05)
    weights = np.exp(-0.5 * ((middle[:, None] - middle[None, :]) / width) ** 2)
    height = weights @ counts
    return pd.DataFrame(
        {"y": middle, "foot": foot, "tip": foot + reach * height / height.max()}
    )


def _draw(
    points: pd.DataFrame, lines: pd.DataFrame, tolerance: float, method: str, reference: str
) -> Any:
    from plotnine import (
        aes,
        geom_point,
        geom_segment,
        geom_text,
        labs,
        scale_linetype_manual,
        scale_x_continuous,
    )

    width = max(points["x"].max() - points["x"].min(), 1.0)
    left, right = points["x"].min() - 0.04 * width, points["x"].max() + 0.04 * width
    frame = _line_frame(lines, left, right)
    across = {"x": "left", "xend": "right"}
    kinds = {"tolerance": "dotted", "nought": "solid"}
    kinds |= {"bias": "solid", "lower_limit": "dashed", "upper_limit": "dashed"}
    return (
        started(points, aes("x", "y"))
        + geom_segment(
            aes(**across, y="height", yend="height", linetype="line"),
            _guides(tolerance, left, right), color=GREY,
        )
        + geom_point(color=BLACK, fill="none", shape="o", size=1.6, alpha=opacity(len(points)))
        + _bands(frame)
        + geom_segment(
            aes(**across, y="estimate", yend="estimate", linetype="measure"),
            frame, color=BLUE, size=0.9,
        )
        + _density(points["y"], right + 0.19 * width, 0.1 * width)
        + geom_text(aes("right", "estimate", label="name"), frame, ha="left", size=8)
        + scale_linetype_manual(values=kinds)
        + scale_x_continuous(limits=(left, right + 0.3 * width), breaks=_breaks(left, right))
        + labs(x=f"Mean of {name_of(method)} and {name_of(reference)} (mm)", y="Difference (mm)")
    )  # fmt: skip


def _bands(frame: pd.DataFrame) -> Any:
    from plotnine import aes, geom_rect

    return geom_rect(
        aes(xmin="left", xmax="right", ymin="lower", ymax="upper"),
        frame.dropna(subset=["lower", "upper"]), inherit_aes=False, fill=BLUE, alpha=0.3,
    )  # fmt: skip


def _density(values: pd.Series, foot: float, reach: float) -> list[Any]:
    """Return the layers of the density at the right, or none for hardly any points."""
    from plotnine import aes, geom_path, geom_segment

    if len(values) < DENSITY_FROM or values.nunique() < 2:
        return []
    outline = _outline(values, foot, reach)
    return [
        geom_segment(
            aes(x="foot", xend="tip", y="y", yend="y"), outline, inherit_aes=False, color=GREY,
            alpha=0.35,
        ),
        geom_path(aes(x="tip", y="y"), outline, inherit_aes=False, color=BLACK, size=0.5),
    ]  # fmt: skip


def _breaks(left: float, right: float) -> list[float]:
    """Return the marks of the lengths alone: no length belongs to the density's place."""
    step = 5.0 if right - left > 12 else 2.0
    first, last = np.ceil(left / step), np.floor(right / step)
    return [float(step * one) for one in np.arange(first, last + 1)]
