"""Outcome by filling level: crude and adjusted, in words that follow the estimate."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.cautions import OBSERVED_ONLY
from lengthwise.report.figures import outcome_levels, place
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    by_measure,
    count_cell,
    counts_cell,
    hundred_cell,
    hundred_interval_cell,
    interval_cell,
    value_cell,
    warnings_note,
)
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import name_of, number, period_words

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
    table = pipe_table(CRUDE, cells, caption=caption, label="outcome-crude")
    note = _tests(rows[(rows["measure"] == "p_value") & rows["valid"]])
    words = f"{escape.markdown(note)} {OBSERVED_ONLY}"
    parts = (
        place(outcome_levels(run_data), "outcome-levels"),
        table,
        words,
        warnings_note(rows),
    )
    return "\n\n".join(part for part in parts if part) + "\n"


def _choice(run_data: RunData) -> str:
    """Return which review and which reading count, in words."""
    horizon = run_data.setting("follow_up", "horizon_months", default=12)
    is_latest = run_data.setting("follow_up", "choice") == "latest"
    review = "the latest review" if is_latest else f"the review nearest {horizon} months"
    rule = run_data.setting("follow_up", "reader_rule", default="first")
    return f"{review}, {rule} reading of each film"


def outcome_adjusted(run_data: RunData) -> str:
    """Return the adjusted ratios with what went into the model, or why there is none."""
    rows = run_data.select(section="outcome", analysis="C2", measure="odds_ratio")
    if rows.empty:
        return NOT_ANALYSED
    cells = [
        (
            name_of(row["subject"]),
            _reference(row),
            value_cell(row),
            interval_cell(row),
            _e_value(run_data, row["subject"]),
            count_cell(row["n_used"]),
            count_cell(row["n_clusters"]),
        )
        for _, row in rows.iterrows()
    ]
    columns = (
        text("Term"),
        text("Compared with"),
        figure("Odds ratio of not healed"),
        figure("95% interval"),
        figure("E-value (limit)"),
        figure("Teeth"),
        figure("Patients"),
    )
    models = "; ".join(name for name in dict.fromkeys(rows["method"]) if name)
    caption = "Association with not healed, each term adjusted for the others"
    table = pipe_table(columns, cells, caption=caption, label="outcome-adjusted")
    note = f"Model: {models}." if models else ""
    words = f"{escape.markdown(note)} A ratio above 1 goes with not healed more often."
    parts = (table, words, _plan_words(run_data, rows), _beside(run_data), warnings_note(rows))
    return "\n\n".join(part for part in parts if part) + "\n"


def _e_value(run_data: RunData, level: str) -> str:
    found = [
        run_data.one(section="outcome", analysis="C9", measure=measure, subject=level)
        for measure in ("e_value", "e_value_limit")
    ]
    if any(row is None or not row["valid"] for row in found):
        return ""
    return f"{value_cell(found[0])} ({value_cell(found[1])})"


def _plan_words(run_data: RunData, terms: pd.DataFrame) -> str:
    """Return events, parameters and patients of the model, and what was left out of it."""
    model = by_measure(run_data.select(section="outcome", analysis="C2", subject="model"))
    share = model.get("events_per_parameter")
    if share is None or not share["valid"]:
        return ""
    first = terms.iloc[0]
    aside = int(first["n_missing"])
    said = [
        f"{count_cell(model['events']['estimate'])} events for "
        f"{count_cell(model['parameters']['estimate'])} parameters, "
        f"{number(share['estimate'], 1)} a parameter",
        f"{aside} teeth set aside for a missing value" if aside else "no tooth set aside",
    ]
    if share["reason"]:
        said.append(str(share["reason"]))
    note = (
        "The E-value says how strongly, as a risk ratio, something not recorded would have to "
        "go with both level and outcome to account for the standardised risk ratio; in "
        "brackets, for its nearer limit."
    )
    return f"{escape.markdown('; '.join(said).capitalize())}. {note}"


BESIDE = {
    "C3": "penalised likelihood (Firth)",
    "C6": "higher index, proportional odds",
    "C10": "missing covariates imputed",
}


def _beside(run_data: RunData) -> str:
    """Return the same ratios by other models, as a check on the first."""
    cells = []
    for analysis, words in BESIDE.items():
        rows = run_data.select(section="outcome", analysis=analysis, measure="odds_ratio")
        cells += [
            (
                words,
                name_of(row["subject"]),
                value_cell(row),
                interval_cell(row),
                count_cell(row["n_used"]),
            )
            for _, row in rows.iterrows()
        ]
    if not cells:
        return ""
    columns = (
        text("Model"),
        text("Level"),
        figure("Odds ratio"),
        figure("95% interval"),
        figure("Teeth"),
    )
    caption = "The same comparison with within by other models"
    return pipe_table(columns, cells, caption=caption, label="outcome-other-models")


def _reference(row: Row) -> str:
    return name_of(row["reference"]) if row["reference"] not in {"", "none"} else ""


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
        return ""
    return "under 0.001" if row["estimate"] < 0.001 else number(row["estimate"], 3)


def _tests(rows: pd.DataFrame) -> str:
    """Return each test with its name; a test over all levels has its p value here."""
    found = []
    for _, row in rows.iterrows():
        is_overall = row["subject"] not in LEVELS
        value = f", {name_of(row['subject'])}, p = {_p_value(row)}" if is_overall else ""
        found.append(f"{row['method']}{value}")
    names = "; ".join(dict.fromkeys(found))
    return f"Test, two-sided: {names}." if names else ""
