"""A clinician's own shares by quarter, one small panel per criterion, with the target."""

from textwrap import fill
from typing import Any

import pandas as pd

from lengthwise.report.escape import plain
from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.theme import BLACK, BLUE, GREY, started
from lengthwise.report.wording import criterion_name, in_hundred, period_words, sentence

TITLE_LETTERS, TITLE_LINES = 22, 4
ACROSS = 5


def clinician_trend(run_data: RunData, criteria: list[str]) -> Figure | None:
    """Return the own trend of the named criteria, or None where no quarter has enough cases."""
    rows = run_data.select(analysis="B5", measure="share_in_quarter")
    rows = rows[rows["subject"].isin(criteria) & rows["valid"]]
    if rows.empty:
        return None
    shown = [name for name in criteria if name in set(rows["subject"])]
    quarters = sorted(rows["period"].unique())
    spans = " ".join(_span(run_data, rows[rows["subject"] == name], name) for name in shown)
    return Figure(
        plot=_draw(run_data, rows, shown, quarters),
        headline="Your own trend, beside the target.",
        subtitle=(
            f"Share of your cases that meet each criterion, per quarter, {quarters[0]} to "
            f"{quarters[-1]}; n = {int(rows['denominator'].sum())} cases over "
            f"{len(shown)} criteria. Dashed: target. Quarters with too few cases are left out."
        ),
        alt_text=f"Small line charts of your shares per 100 by quarter. {spans}",
        result_ids=tuple(rows["result_id"]),
        height_inch=1.5 * -(-len(shown) // ACROSS),
    )


def short_titles(
    run_data: RunData, names: list[str], letters: int, lines: int
) -> dict[str, str]:
    """Return a wrapped title of each criterion; two that read alike are told apart by number."""
    titles: dict[str, str] = {}
    for place, name in enumerate(names, start=1):
        words = plain(criterion_name(run_data, name)).rstrip(".")
        title = fill(words, letters, max_lines=lines, placeholder="…")
        is_taken = title in titles.values()
        titles[name] = f"{title} ({place})" if is_taken else title
    return titles


def _span(run_data: RunData, rows: pd.DataFrame, name: str) -> str:
    first, last = rows.sort_values("period").iloc[[0, -1]].to_dict("records")
    words = criterion_name(run_data, name).rstrip(".")
    return sentence(
        f"{words}: {_share(first)} in {period_words(first['period'])}, {_share(last)} in "
        f"{period_words(last['period'])}{_target(last)}"
    )


def _share(row: Row) -> str:
    return in_hundred(row["estimate"])


def _target(row: Row) -> str:
    return "" if pd.isna(row["target"]) else f", target {in_hundred(row['target'])}"


def _draw(run_data: RunData, rows: pd.DataFrame, shown: list[str], quarters: list[str]) -> Any:
    from plotnine import (
        aes,
        element_text,
        facet_wrap,
        geom_hline,
        geom_line,
        geom_point,
        labs,
        scale_x_continuous,
        scale_y_continuous,
        theme,
    )

    titles = short_titles(run_data, shown, TITLE_LETTERS, TITLE_LINES)
    frame = rows.assign(
        panel=pd.Categorical(rows["subject"].map(titles), list(titles.values())),
        x=rows["period"].map(quarters.index),
        y=100 * rows["estimate"],
        line=100 * rows["target"],
    )
    ends = sorted({0, len(quarters) - 1})
    plot = started(frame, aes("x", "y"))
    aimed = frame.dropna(subset=["line"])
    if len(aimed):
        plot = plot + geom_hline(aes(yintercept="line"), aimed, color=BLUE, linetype="dashed")
    return (
        plot
        + geom_line(aes(group="panel"), color=GREY)
        + geom_point(color=BLACK, size=1.6)
        + facet_wrap("panel", ncol=min(ACROSS, len(shown)))
        + scale_x_continuous(
            breaks=ends, labels=[quarters[end][2:] for end in ends],
            limits=(-0.6, len(quarters) - 0.4),
        )
        + scale_y_continuous(limits=(0, 100), breaks=(0, 50, 100))
        + labs(x="", y="Per 100")
        + theme(
            strip_text=element_text(color=BLACK, size=6.5, ha="center", va="bottom"),
            axis_text_x=element_text(size=7),
            axis_text_y=element_text(size=7),
            axis_title_y=element_text(size=8),
        )
    )  # fmt: skip
