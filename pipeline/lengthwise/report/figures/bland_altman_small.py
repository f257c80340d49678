"""Differences of one method over the mean, one panel per tooth type."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, GREY, started
from lengthwise.report.wording import name_of, number, period_words, sentence

LINES = ("bias", "lower_limit", "upper_limit")


def bland_altman_by_tooth_type(run_data: RunData, method: str) -> Figure | None:
    """Return the small multiples, or None where fewer than two panels have valid limits."""
    rows = run_data.select(
        section="agreement", analysis="A2", subject=method, reference="confirmed",
        stratum_kind="tooth_type",
    )  # fmt: skip
    rows = rows[rows["measure"].isin(LINES) & rows["valid"]]
    full = rows.groupby("stratum")["measure"].nunique()
    kinds = [kind for kind in dict.fromkeys(rows["stratum"]) if full[kind] == len(LINES)]
    points = run_data.plotted("bland_altman", method).dropna(subset=["x", "y"])
    points = points[points["label"].isin(kinds)]
    if len(kinds) < 2 or points.empty:
        return None
    rows = rows[rows["stratum"].isin(kinds)]
    wide = rows.pivot_table(index="stratum", columns="measure", values="estimate")
    said = [_spoken(kind, wide.loc[kind]) for kind in kinds]
    tolerance = float(run_data.setting("thresholds", "tolerance_mm", default=0.5))
    return Figure(
        plot=_draw(points, rows, tolerance),
        headline=sentence(f"{name_of(method)} by tooth type: {'; '.join(said)}"),
        subtitle=(
            f"Difference in length, {name_of(method)} minus confirmed length, over the mean of "
            f"both; a point is a canal, its readings averaged; {period_words(rows['period'].iloc[0])}."
            f" Lines: bias and 95% limits of each tooth type, intervals as bands; dotted: "
            f"tolerance of {number(tolerance, 1)} mm."
        ),
        alt_text=(
            f"{len(kinds)} scatters of differences in mm over the mean, one per tooth type: "
            f"{'; '.join(said)}."
        ),
        result_ids=tuple(rows["result_id"]),
        height_inch=1.0 + 1.5 * ((len(kinds) + 1) // 2),
    )  # fmt: skip


def _spoken(kind: str, limits: "pd.Series[float]") -> str:
    bias, low, high = (number(float(limits[name]), signed=True) for name in LINES)
    return f"{name_of(kind)} bias {bias} mm, limits {low} to {high}"


def _draw(points: pd.DataFrame, rows: pd.DataFrame, tolerance: float) -> Any:
    from plotnine import aes, facet_wrap, geom_hline, geom_point, geom_rect, labs

    frame = points.assign(kind=points["label"].map(name_of))
    lines = rows.assign(kind=rows["stratum"].map(name_of))
    bands = lines.dropna(subset=["lower", "upper"]).assign(
        left=points["x"].min(), right=points["x"].max()
    )
    return (
        started(frame, aes("x", "y"))
        + geom_rect(
            aes(xmin="left", xmax="right", ymin="lower", ymax="upper"),
            bands, inherit_aes=False, fill=BLUE, alpha=0.2,
        )
        + geom_hline(yintercept=[-tolerance, tolerance], color=GREY, linetype="dotted")
        + geom_point(
            color=BLACK, fill="none", shape="o", size=1.2,
            alpha=float(min(0.75, max(0.12, 150 / len(frame)))),
        )
        + geom_hline(aes(yintercept="estimate"), lines, color=BLUE, size=0.7)
        + facet_wrap("kind", ncol=2)
        + labs(x="Mean of both (mm)", y="Difference (mm)")
    )  # fmt: skip
