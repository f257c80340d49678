"""Every compared pair of methods on one scale: bias, its interval, limits of agreement."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure, spoken
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, GREY, started
from lengthwise.report.wording import counted, name_of, number, period_words, sentence

PAIRS_AT_MOST = 14


def method_pairs(run_data: RunData) -> Figure | None:
    """Return the figure of all pairs with valid limits, or None where there is none."""
    every = pair_frame(run_data)
    if every.empty:
        return None
    pairs = every.nlargest(PAIRS_AT_MOST, "n_used", keep="first").sort_values("position")
    left_out = len(every) - len(pairs)
    rest = (
        f" {counted(left_out, 'pair')} with fewer canals in the table only." if left_out else ""
    )
    tolerance = float(run_data.setting("thresholds", "tolerance_mm", default=0.5))
    widths = pairs["upper_limit"] - pairs["lower_limit"]
    narrow = pairs.iloc[int(widths.to_numpy().argmin())]
    spread = f"{number(narrow['lower_limit'], signed=True)} to " + number(
        narrow["upper_limit"], signed=True
    )
    return Figure(
        plot=_draw(pairs, tolerance),
        headline=sentence(f"The narrowest limits are those of {narrow['pair']}: {spread} mm"),
        subtitle=(
            "Difference in length (mm) by pair of methods; canals, "
            f"{period_words(narrow['period'])}; n beside each pair. "
            " Point: bias; thick bar: its 95% interval; thin bar: 95% limits "
            f"of agreement; dotted: tolerance of {number(tolerance, 1)} mm either side.{rest}"
        ),
        alt_text=_alternative(pairs),
        result_ids=tuple(pairs["result_id"]),
        height_inch=1.0 + 0.33 * len(pairs),
    )


def pair_frame(run_data: RunData) -> pd.DataFrame:
    """Return one row per pair: bias, lower, upper, limits, n and the pair's name."""
    rows = run_data.select(section="agreement")
    rows = rows[rows["measure"].isin(["bias", "lower_limit", "upper_limit"]) & rows["valid"]]
    keys = ["subject", "reference"]
    limits = rows.pivot_table(index=keys, columns="measure", values="estimate", aggfunc="first")
    if not {"bias", "lower_limit", "upper_limit"} <= set(limits.columns):
        return pd.DataFrame()
    bias = rows[rows["measure"] == "bias"]
    pairs = bias.merge(limits[["lower_limit", "upper_limit"]].dropna(), on=keys)
    pairs["pair"] = [
        f"{name_of(row['subject'])} minus {name_of(row['reference'])}"
        for _, row in pairs.iterrows()
    ]
    return pairs


def _alternative(pairs: pd.DataFrame) -> str:
    parts = [
        f"{row['pair']}, bias {number(row['estimate'], signed=True)}, limits "
        f"{number(row['lower_limit'], signed=True)} to "
        f"{number(row['upper_limit'], signed=True)}"
        for _, row in pairs.iterrows()
    ]
    return f"Points with bars for {len(pairs)} pairs of methods, in mm: {spoken(parts)}."


def _draw(pairs: pd.DataFrame, tolerance: float) -> Any:
    from plotnine import aes, geom_point, geom_segment, geom_vline, labs

    names = [f"{row['pair']} (n {int(row['n_used'])})" for _, row in pairs.iterrows()]
    frame = pairs.assign(name=pd.Categorical(names, categories=names[::-1]))
    return (
        started(frame, aes(y="name", yend="name"))
        + geom_vline(xintercept=[-tolerance, tolerance], linetype="dotted", color=GREY)
        + geom_vline(xintercept=0, color=GREY, size=0.4)
        + geom_segment(aes(x="lower_limit", xend="upper_limit"), color=BLACK, size=0.6)
        + geom_segment(aes(x="lower", xend="upper"), color=BLUE, size=2.2)
        + geom_point(aes(x="estimate"), color=BLACK, size=2.4)
        + labs(x="First minus second method (mm)", y="")
    )
