"""Shares of units over their size, with control limits; the flag is not the line's."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, GREY, WHITE, started
from lengthwise.report.wording import (
    counted,
    criterion_name,
    in_hundred,
    period_words,
    sentence,
)

LIMITS = {
    "limit_95": "dashed", "limit_99_8": "solid", "limit_95_widened": "dotted",
    "limit_99_8_widened": "dashdot",
}  # fmt: skip


def funnel(run_data: RunData, panel: str) -> Figure | None:
    """Return the funnel of one measure, or None where it has no points.

    Points have the series `unit` (x = n, y = share) and `limit_95` and `limit_99_8`
    (x = n, y = target, lower, upper). A unit is named as differing by estimates B4 with a
    non-empty reason, which rest on the exact tail and not on the drawn line.
    """
    points = run_data.plotted("funnel", panel)
    units = points[points["series"] == "unit"].dropna(subset=["x", "y"])
    limits = points[points["series"].isin(LIMITS)]
    if units.empty or limits.empty:
        return None
    name = criterion_name(run_data, panel)
    flags = run_data.estimates
    flags = flags[(flags["analysis"] == "B4") & (flags["subject"] == panel)]
    flagged = [row["stratum"] for _, row in flags.iterrows() if row["valid"] and row["reason"]]
    target = float(limits["y"].iloc[0])
    return Figure(
        plot=_draw(units, limits),
        headline=_headline(flagged, len(units), name),
        subtitle=(
            f"Share '{name}' by number of cases around {in_hundred(target)} in 100; "
            f"{_period(run_data, flags)}, {counted(len(units), 'unit')}, n = "
            f"{int(units['x'].sum())}. Dashed and solid: 95% and 99.8% control limits. The "
            "flag comes from the exact binomial tail, not from the drawn lines."
            f"{_widened(limits)}"
        ),
        alt_text="Funnel of shares per 100 by number of cases: "
        + "; ".join(
            f"{row['label']} {in_hundred(row['y'])} of n {int(row['x'])}"
            for _, row in units.iterrows()
        )
        + ".",
        result_ids=tuple(flags["result_id"]),
        height_inch=2.6,
    )


def _period(run_data: RunData, flags: pd.DataFrame) -> str:
    """Return the quarters that the shares cover."""
    return period_words(str(run_data.run["period"] if flags.empty else flags.iloc[0]["period"]))


def _widened(limits: pd.DataFrame) -> str:
    if not limits["series"].str.endswith("widened").any():
        return ""
    return " Dotted and dash-dotted: the same with the variation between units."


def _headline(flagged: list[str], units: int, name: str) -> str:
    if not flagged:
        return sentence(
            f"{name}: none of {units} units differs from the target by more than "
            "chance usually gives, which does not show that they are alike"
        )
    return sentence(
        f"{name}: {', '.join(flagged)} {'differs' if len(flagged) == 1 else 'differ'} from the "
        "target by more than chance usually gives: check data, then case-mix, then process"
    )


def _draw(units: pd.DataFrame, limits: pd.DataFrame) -> Any:
    from plotnine import (
        aes,
        geom_hline,
        geom_label,
        geom_line,
        geom_point,
        labs,
        scale_linetype_manual,
        scale_y_continuous,
    )

    curves = limits.assign(lower=100 * limits["lower"], upper=100 * limits["upper"])
    return (
        started(units.assign(y=100 * units["y"]), aes("x", "y"))
        + geom_hline(yintercept=100 * limits["y"].iloc[0], color=GREY)
        + geom_line(aes("x", "lower", linetype="series"), curves, color=BLUE)
        + geom_line(aes("x", "upper", linetype="series"), curves, color=BLUE)
        + geom_point(color=BLACK, size=2.4)
        + geom_label(
            aes(label="label"),
            color=BLACK,
            fill=WHITE,
            size=7,
            label_size=0,
            nudge_y=8,
            label_padding=0.1,
        )
        + scale_linetype_manual(values=LIMITS)
        + scale_y_continuous(limits=(0, 100), breaks=range(0, 101, 25))
        + labs(x="Number of cases", y="Per 100")
    )
