"""How the ends of fillings lie along the canal, with the preset's limits drawn."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, DARK_GREY, started
from lengthwise.report.wording import number, sentence

BAR_MM = 0.5


def fill_offsets(run_data: RunData) -> Figure | None:
    """Return the histogram of fill_offset_mm, or None where none is stored.

    Points have the series `fillings` (x in mm, y the count) and `limit` (label lower, upper).
    """
    points = run_data.plotted("fill_offsets")
    bars, limits = (points[points["series"] == name] for name in ("fillings", "limit"))
    if bars.empty or limits.empty:
        return None
    rows = run_data.select(section="fill", subject="fill_offset")
    edges = dict(zip(limits["label"], limits["x"], strict=True))
    count = int(bars["y"].sum())
    peak = bars.loc[bars["y"].idxmax()]
    span = f"{number(edges['lower'])} to {number(edges['upper'])} mm"
    return Figure(
        plot=_draw(bars, limits),
        headline=_headline(rows),
        subtitle=(
            f"Fillings by their end against the radiographic apex (mm; above 0 is beyond), in "
            f"steps of {BAR_MM} mm; all quarters, n = {count}. Dashed: limits of the preset "
            f"{run_data.setting('preset')}, within is {span}."
        ),
        alt_text=(
            f"Histogram of {count} fillings from {number(bars['x'].min())} to "
            f"{number(bars['x'].max())} mm, most ({int(peak['y'])}) at {number(peak['x'])} mm; "
            f"lines at the limits {span}."
        ),
        result_ids=tuple(rows["result_id"]),
        height_inch=2.8,
    )


def _headline(rows: pd.DataFrame) -> str:
    whole = rows[rows["valid"]].drop_duplicates("measure", keep="last").set_index("measure")
    if "median" not in whole.index:
        return sentence("Where fillings end along the canal")
    low, middle, high = (
        number(whole.loc[name, "estimate"], 1)
        for name in ("lower_quartile", "median", "upper_quartile")
    )
    return sentence(
        f"Half of the fillings end between {low} and {high} mm, the middle at {middle}"
    )


def _draw(bars: pd.DataFrame, limits: pd.DataFrame) -> Any:
    from plotnine import aes, geom_col, geom_vline, labs, scale_x_continuous

    edges = range(int(bars["x"].min()) - 1, int(bars["x"].max()) + 2)
    return (
        started(bars, aes("x", "y"))
        + geom_col(width=0.92 * BAR_MM, fill=BLUE, color=BLACK, size=0.3)
        + geom_vline(aes(xintercept="x"), limits, color=DARK_GREY, linetype="dashed", size=0.8)
        + scale_x_continuous(breaks=list(edges))
        + labs(x="End of filling against the radiographic apex (mm)", y="Fillings")
    )
