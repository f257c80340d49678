"""A share by month around its median, with what the run rules say."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, GREY, axis_breaks, axis_top, started
from lengthwise.report.wording import criterion_name, in_hundred, name_of, sentence


def run_chart(run_data: RunData, panel: str) -> Figure | None:
    """Return the run chart of one criterion, or None where it has no points.

    Points have the series `share` (with n) and `median`; estimates B2 of the same subject
    hold the longest run and the crossings, with a reason where a rule gives a signal.
    """
    points = run_data.plotted("run_chart", panel).dropna(subset=["y"])
    shares, median = (points[points["series"] == name] for name in ("share", "median"))
    if shares.empty:
        return None
    name = criterion_name(run_data, panel)
    rules = run_data.select(analysis="B2", subject=panel)
    months = f"{shares['label'].iloc[0]} to {shares['label'].iloc[-1]}"
    return Figure(
        plot=_draw(shares, median),
        headline=_headline(rules, name),
        subtitle=(
            f"Share meeting '{name}' per month around the median; {months}, "
            f"{len(shares)} months, n = {int(shares['n'].sum())}. Dashed: median"
            f"{_baselines(median)}."
        ),
        alt_text=_alternative(shares, median, months),
        result_ids=tuple(rules["result_id"]),
        height_inch=2.05,
    )


def _baselines(median: pd.DataFrame) -> str:
    """Return that the median starts anew, where the practice decided so."""
    count = int(_segment(median).max()) if len(median) else 1
    return f", new for each of {count} baselines" if count > 1 else ""


def _segment(median: pd.DataFrame) -> pd.Series:
    """Number the stretches of one median, from 1."""
    apart = median["y"].diff().ne(0) | median["x"].diff().gt(1)
    return apart.cumsum()


def _headline(rules: pd.DataFrame, name: str) -> str:
    refused = rules[~rules["valid"]]
    if not refused.empty:
        return sentence(f"{name}: {refused.iloc[0]['reason']}")
    signals = [reason for reason in rules["reason"] if reason]
    if signals:
        return sentence(f"{name}: {'; '.join(signals)}")
    values = rules.set_index("measure")["estimate"]
    counts = ", ".join(
        f"{name_of(str(measure))} {int(value)}" for measure, value in values.items()
    )
    found = f" ({counts})" if counts else ""
    return sentence(f"{name}: the run rules give no signal of a shift{found}")


def _alternative(shares: pd.DataFrame, median: pd.DataFrame, months: str) -> str:
    centre = f", median {in_hundred(median['y'].iloc[-1])}" if len(median) else ""
    return (
        f"Line of {len(shares)} monthly shares per 100, {months}: lowest "
        f"{in_hundred(shares['y'].min())}, highest {in_hundred(shares['y'].max())}, last "
        f"{in_hundred(shares['y'].iloc[-1])}{centre}."
    )


def _draw(shares: pd.DataFrame, median: pd.DataFrame) -> Any:
    from plotnine import (
        aes,
        element_text,
        geom_line,
        geom_point,
        labs,
        scale_x_continuous,
        scale_y_continuous,
        theme,
    )

    every = max(1, len(shares) // 9)
    top = axis_top(100 * shares["y"])
    ticks = shares.iloc[::every]
    lines = median.assign(y=100 * median["y"], segment=_segment(median))
    return (
        started(shares.assign(y=100 * shares["y"]), aes("x", "y"))
        + geom_line(aes("x", "y", group="segment"), lines, linetype="dashed", color=BLUE)
        + geom_line(color=GREY)
        + geom_point(color=BLACK, size=2)
        + scale_x_continuous(breaks=list(ticks["x"]), labels=list(ticks["label"]))
        + scale_y_continuous(limits=(0, top), breaks=axis_breaks(top))
        + labs(x="", y="Per 100")
        + theme(axis_text_x=element_text(rotation=45, ha="right"))
    )
