"""Differences of one method over the mean, in panels: tooth types, clinicians, conditions."""

from dataclasses import dataclass
from typing import Any

import pandas as pd

from lengthwise.report.figures.bland_altman import opacity
from lengthwise.report.figures.conditions import PEOPLE
from lengthwise.report.figures.figure import Figure, spoken
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, GREY, started
from lengthwise.report.wording import name_of, number, period_words, sentence

LINES = ("bias", "lower_limit", "upper_limit")


@dataclass(frozen=True, slots=True)
class Split:
    """What one set of panels splits by, and what a point of it is."""

    words: str
    kinds: tuple[str, ...]
    point: str
    columns: int


SPLITS = {
    "tooth_type": Split(
        "tooth type", ("tooth_type",), "a point is a canal, its readings averaged", 2
    ),
    PEOPLE: Split("clinician", (PEOPLE,), "a point is a canal, its readings averaged", 3),
    "condition": Split(
        "recorded condition", ("canal_state", "metal_contact", "file_size"),
        "a point is one reading", 2,
    ),
}  # fmt: skip


def bland_altman_by(run_data: RunData, method: str, split: str) -> Figure | None:
    """Return the panels of a split, or None where fewer than two have valid limits.

    Clinicians are shown only where as many have limits as a comparison of people asks for.
    """
    chosen = SPLITS[split]
    rows = _limits(run_data, method, chosen.kinds)
    names = list(dict.fromkeys(rows["stratum"]))
    least = int(run_data.setting("small_numbers", "minimum_clinicians", default=5))
    if len(names) < (least if split == PEOPLE else 2):
        return None
    points = pd.concat(
        [run_data.plotted(f"limits_by_{kind}", method) for kind in chosen.kinds]
    ).dropna(subset=["x", "y"])
    points = points[points["series"].isin(names)]
    if points.empty:
        return None
    wide = rows.pivot_table(index="stratum", columns="measure", values="estimate")
    said = [_spoken(name, wide.loc[name]) for name in names]
    tolerance = float(run_data.setting("thresholds", "tolerance_mm", default=0.5))
    return Figure(
        plot=_draw(points, rows, names, tolerance, chosen.columns),
        headline=_headline(rows, method, chosen),
        subtitle=(
            f"Difference in length, {name_of(method)} minus confirmed length, over the mean of "
            f"both; {chosen.point}; {period_words(rows['period'].iloc[0])}. Lines: bias and 95% "
            f"limits of each panel, intervals as bands; dotted: tolerance of "
            f"{number(tolerance, 1)} mm.{_drawn(points)}"
        ),
        alt_text=(
            f"{len(names)} scatters of differences in mm over the mean, by {chosen.words}: "
            f"{spoken(said)}."
        ),
        result_ids=tuple(rows["result_id"]),
        height_inch=1.0 + 1.5 * -(-len(names) // chosen.columns),
    )  # fmt: skip


def _limits(run_data: RunData, method: str, kinds: tuple[str, ...]) -> pd.DataFrame:
    """Return the valid rows of strata whose bias and both limits are all given."""
    rows = run_data.estimates
    rows = rows[
        (rows["section"] == "agreement") & (rows["subject"] == method)
        & (rows["reference"] == "confirmed") & rows["stratum_kind"].isin(kinds)
        & rows["measure"].isin(LINES) & rows["valid"] & rows["analysis"].isin(["A2", "A7"])
    ]  # fmt: skip
    whole = rows.groupby("stratum")["measure"].transform("nunique") == len(LINES)
    return rows[whole].sort_values("position", kind="stable")


def _headline(rows: pd.DataFrame, method: str, chosen: Split) -> str:
    """Name the narrowest and the widest limits; people are not singled out."""
    wide = rows.pivot_table(index="stratum", columns="measure", values="estimate")
    width = wide["upper_limit"] - wide["lower_limit"]
    if chosen.kinds == (PEOPLE,):
        low, high = (number(float(end), signed=True) for end in _ends(wide["bias"]))
        return sentence(
            f"{name_of(method)} by clinician: the bias of {len(wide)} clinicians lies between "
            f"{low} and {high} mm"
        )
    named = [_spoken(str(name), wide.loc[name]) for name in (width.idxmin(), width.idxmax())]
    return sentence(
        f"{name_of(method)} by {chosen.words}: the narrowest limits are those of {named[0]}; "
        f"the widest those of {named[1]}"
    )


def _ends(values: "pd.Series[float]") -> tuple[float, float]:
    return float(values.min()), float(values.max())


def _spoken(name: str, limits: "pd.Series[float]") -> str:
    bias, low, high = (number(float(limits[line]), signed=True) for line in LINES)
    return f"{name_of(name)} (bias {bias}, limits {low} to {high} mm)"


def _drawn(points: pd.DataFrame) -> str:
    """Say that not every row is drawn, where that is so."""
    if points.groupby("series").size().lt(points.groupby("series")["n"].max()).any():
        return " Of panels with very many points a fixed sample is drawn."
    return ""


def _draw(
    points: pd.DataFrame, rows: pd.DataFrame, names: list[str], tolerance: float, columns: int
) -> Any:
    from plotnine import aes, facet_wrap, geom_hline, geom_point, geom_rect, labs

    counts = points.groupby("series")["n"].max()
    titles = {name: f"{name_of(name)} (n {int(counts.get(name, 0))})" for name in names}

    def titled(values: pd.Series) -> pd.Categorical:
        return pd.Categorical(values.map(titles), categories=list(titles.values()))

    frame = points.assign(kind=titled(points["series"]))
    lines = rows.assign(kind=titled(rows["stratum"]))
    bands = lines.dropna(subset=["lower", "upper"]).assign(
        left=points["x"].min(), right=points["x"].max()
    )
    return (
        started(frame, aes("x", "y"))
        + geom_point(
            color=BLACK, fill="none", shape="o", size=1.0,
            alpha=opacity(len(frame) // len(names)),
        )
        + geom_rect(
            aes(xmin="left", xmax="right", ymin="lower", ymax="upper"),
            bands, inherit_aes=False, fill=BLUE, alpha=0.35,
        )
        + geom_hline(yintercept=[-tolerance, tolerance], color=GREY, linetype="dotted")
        + geom_hline(aes(yintercept="estimate"), lines, color=BLUE, size=0.7)
        + facet_wrap("kind", ncol=columns)
        + labs(x="Mean of both (mm)", y="Difference (mm)")
    )  # fmt: skip
