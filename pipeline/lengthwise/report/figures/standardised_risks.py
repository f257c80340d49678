"""Standardised risk of not healing by filling level, with intervals."""

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.figures.outcome_levels import LEVELS, draw_by_level
from lengthwise.report.run_data import RunData
from lengthwise.report.wording import (
    contrast_phrase,
    in_hundred,
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
        plot=draw_by_level(
            rows,
            [f"{in_hundred(share)} in 100" for share in rows["estimate"]],
            "Not healed per 100 teeth, standardised",
        ),
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
