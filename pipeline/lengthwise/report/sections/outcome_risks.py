"""The adjusted association as risks in natural frequencies, and along the offset in mm."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.cautions import OBSERVED_ONLY
from lengthwise.report.figures import dose_response, place, standardised_risks
from lengthwise.report.held import DOSE
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    by_measure,
    value_cell,
    warnings_note,
)
from lengthwise.report.sections.outcome_context import HELD
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import (
    contrast_phrase,
    in_hundred,
    interval_text,
    is_certain,
    name_of,
    number,
    period_words,
    refusal,
    sentence,
)

LEVELS = ("short", "within", "flush", "beyond")
COLUMNS = (
    text("Level"),
    figure("Not healed in 100, standardised"),
    figure("Difference to within (points)"),
    figure("Ratio to within"),
    figure("Share of not healed associated with the level (in 100)"),
)


def outcome_risks(run_data: RunData) -> str:
    """Return risks by level over this practice's case-mix, or why there are none."""
    rows = run_data.select(section="outcome", analysis="C4")
    if rows.empty:
        return NOT_ANALYSED
    cells = [
        (name_of(level), *_cells(by_measure(rows[rows["subject"] == level])))
        for level in LEVELS
        if level in set(rows["subject"])
    ]
    caption = (
        "Risk of not healed, were all teeth of this case-mix filled to the level, "
        f"{period_words(rows.iloc[0]['period'])}"
    )
    table = pipe_table(
        COLUMNS, cells, caption=caption, label="outcome-risks", ids=rows["result_id"]
    )
    parts = (
        place(standardised_risks(run_data), "standardised-risks"),
        escape.markdown(_words(rows)),
        table,
        OBSERVED_ONLY,
        warnings_note(rows),
    )
    return "\n\n".join(part for part in parts if part) + "\n"


def outcome_dose(run_data: RunData) -> str:
    """Return the curve along the offset, and the odds per mm outside the preset."""
    rows = run_data.select(section="outcome", analysis="C5")
    if rows.empty:
        return NOT_ANALYSED
    slopes = rows[rows["measure"] == "odds_ratio_per_mm"]
    said = " ".join(sentence(_slope(row)) for _, row in slopes.iterrows())
    bend = by_measure(rows).get("p_value")
    if bend is not None and bend["valid"]:
        p = "under 0.001" if bend["estimate"] < 0.001 else number(bend["estimate"], 3)
        said = f"{said} Test that the curve is a straight line: p = {p}."
    if slopes["valid"].any():
        said = f"{said} {DOSE}"
    drawn = place(dose_response(run_data), "dose-response")
    return "\n\n".join(part for part in (drawn, escape.markdown(said)) if part) + "\n"


def _words(rows: pd.DataFrame) -> str:
    risks = rows[(rows["measure"] == "standardised_risk") & rows["valid"]]
    said = [
        f"{in_hundred(row['estimate'])} in 100 filled {name_of(row['subject'])} "
        f"({in_hundred(row['lower'])} to {in_hundred(row['upper'])})"
        for level in LEVELS
        for _, row in risks[risks["subject"] == level].iterrows()
    ]
    opening = f"With the case-mix held alike, not healed are {'; '.join(said)}" if said else ""
    contrasts = rows[rows["measure"] == "risk_difference"]
    phrases = [
        contrast_phrase(row, row["subject"], row["reference"])
        for _, row in contrasts.iterrows()
    ]
    held = HELD if said else ""
    sentences = (sentence(opening), sentence("; ".join(phrases)), held)
    return " ".join(part for part in sentences if part)


def _cells(measures: dict[str, Row]) -> tuple[str, ...]:
    risk = measures.get("standardised_risk")
    return (
        _hundred(risk),
        _points(measures.get("risk_difference")),
        _ratio(measures.get("risk_ratio")),
        _points(measures.get("share_of_events"), signed=False),
    )


def _hundred(row: Row | None) -> str:
    if row is None or not row["valid"]:
        return value_cell(row)
    ends = f"{in_hundred(row['lower'])} to {in_hundred(row['upper'])}"
    return f"{in_hundred(row['estimate'])} ({ends})"


def _points(row: Row | None, *, signed: bool = True) -> str:
    if row is None or not row["valid"]:
        return value_cell(row)
    values = [
        number(100 * row[key], 0, signed=signed) for key in ("estimate", "lower", "upper")
    ]
    return f"{values[0]} ({values[1]} to {values[2]})"


def _ratio(row: Row | None) -> str:
    if row is None or not row["valid"]:
        return value_cell(row)
    return f"{number(row['estimate'])} ({interval_text(row)})"


def _slope(row: Row) -> str:
    further = "further short of the preset" if row["subject"] == "short" else "beyond the apex"
    if not row["valid"]:
        return f"per mm {further}: {refusal(row)}"
    value = f"odds ratio {number(row['estimate'])}, 95% interval {interval_text(row)}"
    if not is_certain(row, 1.0):
        return f"per mm {further} no change of the odds of not healed is shown ({value})"
    side = "higher" if row["estimate"] > 1 else "lower"
    return f"per mm {further} the odds of not healed are {side} ({value})"
