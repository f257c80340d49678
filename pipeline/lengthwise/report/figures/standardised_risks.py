"""Standardised risk of not healing by filling level, with intervals."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.figures.outcome_levels import LEVELS
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, GREY, LEVEL_COLOURS, LEVEL_SHAPES, started
from lengthwise.report.wording import (
    contrast_phrase,
    in_hundred,
    name_of,
    period_words,
    sentence,
)


def standardised_risks(run_data: RunData) -> Figure | None:
    """Return the figure, or None where no risk can be given."""
    rows = run_data.select(section="outcome", analysis="C4", measure="standardised_risk")
    rows = rows[rows["subject"].isin(LEVELS) & rows["valid"]]
    if len(rows) < 2:
        return None
    first = rows.iloc[0]
    return Figure(
        plot=_draw(rows),
        headline=_headline(run_data, rows),
        subtitle=(
            "Teeth not healed per 100, were all teeth of this practice's case-mix filled to "
            f"the level, from the adjusted model; {period_words(first['period'])}, "
            f"n = {int(first['n_used'])} teeth. Bars: 95% intervals."
        ),
        alt_text="Points with intervals, standardised risk of not healed by level. "
        + "; ".join(_point_words(row) for _, row in rows.iterrows())
        + ".",
        result_ids=tuple(rows["result_id"]),
        height_inch=1.2 + 0.4 * len(rows),
    )


def _point_words(row: pd.Series) -> str:
    ends = f"{in_hundred(row['lower'])} to {in_hundred(row['upper'])}"
    return f"{row['subject']}: {in_hundred(row['estimate'])} in 100 ({ends})"


def _headline(run_data: RunData, rows: pd.DataFrame) -> str:
    contrasts = run_data.select(section="outcome", analysis="C4", measure="risk_difference")
    contrasts = contrasts[contrasts["valid"] & contrasts["subject"].isin(LEVELS)]
    phrases = [
        contrast_phrase(row, row["subject"], row["reference"])
        for _, row in contrasts.iterrows()
    ]
    return sentence("Over this case-mix, " + "; ".join(phrases))


def _draw(rows: pd.DataFrame) -> Any:
    from plotnine import (
        aes,
        geom_point,
        geom_segment,
        geom_text,
        labs,
        scale_color_manual,
        scale_shape_manual,
        scale_x_continuous,
        scale_y_discrete,
    )

    frame = rows.copy()
    frame["name"] = [name_of(subject) for subject in rows["subject"]]
    frame["words"] = [f"{in_hundred(share)} in 100" for share in rows["estimate"]]
    for column in ("estimate", "lower", "upper"):
        frame[column] = 100 * frame[column].astype(float)
    return (
        started(frame, aes("estimate", "name", color="name", shape="name"))
        + geom_segment(aes(x="lower", xend="upper", yend="name"), color=GREY)
        + geom_point(size=3)
        + geom_text(aes(label="words"), color=BLACK, size=8, nudge_y=0.32)
        + scale_y_discrete(limits=[name for name in LEVELS if name in set(frame["name"])][::-1])
        + scale_x_continuous(limits=(0, 100), breaks=range(0, 101, 20))
        + scale_color_manual(values=LEVEL_COLOURS)
        + scale_shape_manual(values=LEVEL_SHAPES)
        + labs(x="Not healed per 100 teeth, standardised", y="")
    )
