"""Outcome by filling level: crude and adjusted, in words that follow the estimate."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.cautions import OBSERVED_ONLY
from lengthwise.report.figures import outcome_levels, place
from lengthwise.report.held import CRUDE as CRUDE_HELD
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    by_measure,
    counts_cell,
    hundred_cell,
    hundred_interval_cell,
    value_cell,
    warnings_note,
)
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import (
    frequency,
    interval_text,
    name_of,
    number,
    period_words,
    sentence,
)

LEVELS = ("short", "within", "flush", "beyond")
CRUDE = (
    text("Level"),
    figure("Not healed"),
    figure("Per 100"),
    figure("95% interval"),
    figure("Difference to within (points)"),
    figure("95% interval (points)"),
    figure("p"),
)


def outcome_crude(run_data: RunData) -> str:
    """Return the figure and the crude table, with the name of the test."""
    rows = run_data.select(section="outcome", analysis="C1")
    if rows.empty:
        return NOT_ANALYSED
    cells = [
        (name_of(level), *_crude(by_measure(rows[rows["subject"] == level])))
        for level in LEVELS
        if level in set(rows["subject"])
    ]
    months = run_data.setting("follow_up", "first_countable_months", default=12)
    caption = (
        f"Teeth not healed by level, reviewed at {months} months or later, "
        f"{_choice(run_data)}, crude, {period_words(rows.iloc[0]['period'])}"
    )
    table = pipe_table(
        CRUDE, cells, caption=caption, label="outcome-crude", ids=rows["result_id"]
    )
    note = _tests(rows[(rows["measure"] == "p_value") & rows["valid"]])
    words = f"{escape.markdown(f'{note} {CRUDE_HELD}')} {OBSERVED_ONLY}"
    parts = (
        place(outcome_levels(run_data), "outcome-levels"),
        table,
        words,
        _readers(run_data),
        warnings_note(rows),
    )
    return "\n\n".join(part for part in parts if part) + "\n"


def _readers(run_data: RunData) -> str:
    """Return how far readers of one film agree on the index, from which the outcome comes."""
    said = []
    for kind, words in (
        ("two_readers", "two readers"),
        ("one_reader_twice", "one reader twice"),
    ):
        rows = run_data.select(
            section="agreement", analysis="A9", subject="pai", stratum_kind="readers"
        )
        own = by_measure(rows[rows["stratum"] == kind])
        if "raw_agreement" not in own:
            continue
        kappa = own.get("weighted_kappa")
        text = f"{words} gave the same index in {frequency(own['raw_agreement'], 'films')}"
        if kappa is not None and kappa["valid"]:
            text += f", weighted kappa {number(kappa['estimate'])} ({interval_text(kappa)})"
        said.append(text)
    return escape.markdown(sentence("; ".join(said))) if said else ""


def _choice(run_data: RunData) -> str:
    """Return which review and which reading count, in words."""
    horizon = run_data.setting("follow_up", "horizon_months", default=12)
    is_latest = run_data.setting("follow_up", "choice") == "latest"
    review = "the latest review" if is_latest else f"the review nearest {horizon} months"
    rule = run_data.setting("follow_up", "reader_rule", default="first")
    return f"{review}, {rule} reading of each film"


def _crude(measures: dict[str, Row]) -> tuple[str, ...]:
    share = measures.get("share_not_healed")
    difference = measures.get("risk_difference")
    return (
        counts_cell(share),
        hundred_cell(share),
        hundred_interval_cell(share),
        _points(difference),
        _points_interval(difference),
        _p_value(measures.get("p_value")),
    )


def _points(row: Row | None) -> str:
    if row is None:
        return ""
    return number(100 * row["estimate"], 0, signed=True) if row["valid"] else value_cell(row)


def _points_interval(row: Row | None) -> str:
    if row is None or not row["valid"] or pd.isna(row["lower"]):
        return ""
    ends = (number(100 * row[end], 0, signed=True) for end in ("lower", "upper"))
    return " to ".join(ends)


def _p_value(row: Row | None) -> str:
    if row is None or not row["valid"]:
        return value_cell(row)
    return "under 0.001" if row["estimate"] < 0.001 else number(row["estimate"], 3)


def _tests(rows: pd.DataFrame) -> str:
    """Return each test with its name; a test over all levels has its p value here."""
    found = []
    for _, row in rows.iterrows():
        is_overall = row["subject"] not in LEVELS
        p = _p_value(row)
        equals = "" if p.startswith("under") else "= "
        value = f", {name_of(row['subject'])}, p {equals}{p}" if is_overall else ""
        found.append(f"{row['method']}{value}")
    names = "; ".join(dict.fromkeys(found))
    return f"Test, two-sided: {names}." if names else ""
