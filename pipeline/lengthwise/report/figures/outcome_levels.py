"""Share of teeth not healed by filling level, crude, with intervals."""

from collections.abc import Sequence
from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, GREY, LEVEL_COLOURS, LEVEL_SHAPES, started
from lengthwise.report.wording import (
    contrast_phrase,
    frequency,
    in_hundred,
    name_of,
    period_words,
    sentence,
)

LEVELS = ("short", "within", "flush", "beyond")


def outcome_levels(run_data: RunData) -> Figure | None:
    """Return the figure, or None where no level has a share to show."""
    rows = run_data.select(section="outcome", analysis="C1", measure="share_not_healed")
    rows = rows[rows["subject"].isin(LEVELS) & rows["valid"]]
    rows = rows.sort_values("subject", key=lambda levels: levels.map(LEVELS.index))
    if rows.empty:
        return None
    first = rows.iloc[0]
    return Figure(
        plot=draw_by_level(rows, _counts(rows), "Not healed per 100 teeth"),
        headline=_headline(run_data, rows),
        subtitle=(
            "Teeth not healed at their review per 100 countable teeth, by level of the "
            f"filling, crude; {period_words(first['period'])}, n = "
            f"{int(rows['denominator'].sum())} teeth. "
            "Bars: 95% intervals."
        ),
        alt_text="Points with intervals, teeth not healed by level. "
        + "; ".join(f"{row['subject']}: {frequency(row)}" for _, row in rows.iterrows())
        + ".",
        result_ids=tuple(rows["result_id"]),
        height_inch=1.2 + 0.4 * len(rows),
    )


def _headline(run_data: RunData, rows: pd.DataFrame) -> str:
    contrasts = run_data.select(section="outcome", analysis="C1", measure="risk_difference")
    contrasts = contrasts[contrasts["valid"] & contrasts["subject"].isin(LEVELS)]
    if contrasts.empty:
        shares = rows["estimate"]
        ends = f"{in_hundred(shares.min())} to {in_hundred(shares.max())}"
        return sentence(f"{ends} in 100 teeth were not healed, by level")
    phrases = [
        contrast_phrase(row, row["subject"], row["reference"])
        for _, row in contrasts.iterrows()
    ]
    return sentence("; ".join(phrases))


def draw_by_level(rows: pd.DataFrame, words: Sequence[str], measured: str) -> Any:
    """Draw one share (0-1) a level with its interval per 100, each with its words above."""
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

    frame = rows.assign(name=[name_of(subject) for subject in rows["subject"]], words=words)
    for column in ("estimate", "lower", "upper"):
        frame[column] = 100 * frame[column].astype(float)
    shown = set(frame["name"])
    return (
        started(frame, aes("estimate", "name", color="name", shape="name"))
        + geom_segment(aes(x="lower", xend="upper", yend="name"), color=GREY)
        + geom_point(size=3)
        + geom_text(aes(label="words"), color=BLACK, size=8, nudge_y=0.32)
        + scale_y_discrete(limits=[name for name in LEVELS if name in shown][::-1])
        + scale_x_continuous(limits=(0, 100), breaks=range(0, 101, 20))
        + scale_color_manual(values=LEVEL_COLOURS)
        + scale_shape_manual(values=LEVEL_SHAPES)
        + labs(x=measured, y="")
    )


def _counts(rows: pd.DataFrame) -> list[str]:
    return [
        f"{int(met)} of {int(whole)}"
        for met, whole in zip(rows["numerator"], rows["denominator"], strict=True)
    ]
