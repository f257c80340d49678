"""Each method's own error and relative bias, with no method taken as the truth."""

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.figures.panels import Panel, interval_panels
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.wording import name_of, number, period_words, sentence

SD_PANEL = Panel("Own SD (mm)", 0.0)
BIAS_PANEL = Panel("Relative bias (mm)", 0.0)


def own_errors(run_data: RunData) -> Figure | None:
    """Return the figure of own SDs, the smallest on top, or None where none is valid."""
    rows = run_data.select(section="agreement", analysis="A4")
    spread = rows[(rows["measure"] == "own_sd") & rows["valid"]].sort_values("estimate")
    if spread.empty:
        return None
    bias = rows[(rows["measure"] == "relative_bias") & rows["valid"]]
    names = [_named(row) for _, row in spread.iterrows()]
    look = dict(zip(spread["subject"], names, strict=True))
    frame = pd.concat(
        [spread.assign(panel=SD_PANEL.title), bias.assign(panel=BIAS_PANEL.title)]
    ).assign(kind="first")
    frame["name"] = frame["subject"].map(look)
    first = spread.iloc[0]
    said = [
        f"{name_of(row['subject'])} {number(row['estimate'])} mm ({number(row['lower'])} to "
        f"{number(row['upper'])})"
        for _, row in spread.iterrows()
    ]
    return Figure(
        plot=interval_panels(frame.dropna(subset=["name"]), (SD_PANEL, BIAS_PANEL), names),
        headline=sentence(
            f"The smallest own scatter is that of {name_of(first['subject'])}: an SD of "
            f"{number(first['estimate'])} mm ({number(first['lower'])} to "
            f"{number(first['upper'])} mm)"
        ),
        subtitle=(
            "Own SD of one reading, and bias against the mean of the methods of its set; "
            f"canals, {period_words(first['period'])}; bars: 95% intervals by patient. An "
            "asterisk marks a method worked out in a set of its own."
        ),
        alt_text=f"Points with bars for the own SD of {len(spread)} methods: {'; '.join(said)}.",
        result_ids=tuple(frame["result_id"]),
        height_inch=0.9 + 0.28 * len(names),
    )


def _named(row: Row) -> str:
    mark = " *" if "set of its own" in str(row["reason"]) else ""
    return f"{name_of(row['subject'])}{mark} (n {int(row['n_used'])})"
