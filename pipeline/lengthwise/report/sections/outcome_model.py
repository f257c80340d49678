"""The adjusted model: its terms, what went in and what was left out, and how it stands."""

import pandas as pd

from lengthwise.report.figures import outcome_calibration as calibration_figure
from lengthwise.report.figures import place
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
from lengthwise.report.sections.outcome_beside import other_models
from lengthwise.report.sections.outcome_context import HELD
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import counted, name_of, number

TERMS = (
    text("Term"),
    text("Compared with"),
    figure("Odds ratio of not healed"),
    figure("95% interval"),
    figure("E-value (limit)"),
    figure("Teeth"),
    figure("Patients"),
)
FACTS = (text("The model"), text("In this run"))
CALIBRATION = (
    text("Teeth in order of expected risk"),
    figure("Not healed"),
    figure("Seen in 100"),
    figure("95% interval"),
    figure("Expected in 100"),
)
E_VALUE = (
    "The E-value says how strongly, as a risk ratio, something not recorded would have to go "
    "with both term and outcome to account for the ratio; in brackets, for its nearer limit. "
    "Levels go by their standardised risk ratio; other terms by their odds ratio, or by its "
    "square root where 15 or more in 100 teeth were not healed."
)


def outcome_adjusted(run_data: RunData) -> str:
    """Return the adjusted ratios with what went into the model, or why there is none."""
    rows = run_data.select(section="outcome", analysis="C2", measure="odds_ratio")
    if rows.empty:
        return NOT_ANALYSED
    cells = [_term(run_data, row) for _, row in rows.iterrows()]
    caption = "Association with not healed, each term adjusted for the others"
    table = pipe_table(
        TERMS, cells, caption=caption, label="outcome-adjusted", ids=rows["result_id"]
    )
    words = "A ratio above 1 goes with not healed more often."
    said = f"{words} {E_VALUE} {HELD}" if rows["valid"].any() else ""
    parts = (table, said, _facts(run_data, rows), other_models(run_data), warnings_note(rows))
    return "\n\n".join(part for part in parts if part) + "\n"


def _term(run_data: RunData, row: Row) -> tuple[str, ...]:
    reference = row["reference"]
    return (
        name_of(row["subject"]),
        name_of(reference) if reference not in {"", "none"} else "",
        value_cell(row),
        interval_cell(row),
        _e_value(run_data, row["subject"]),
        count_cell(row["n_used"]),
        count_cell(row["n_clusters"]),
    )


def _e_value(run_data: RunData, level: str) -> str:
    found = [
        run_data.one(section="outcome", analysis="C9", measure=measure, subject=level)
        for measure in ("e_value", "e_value_limit")
    ]
    if any(row is None or not row["valid"] for row in found):
        return ""
    return f"{value_cell(found[0])} ({value_cell(found[1])})"


def _facts(run_data: RunData, terms: pd.DataFrame) -> str:
    """Return the table of what went in, what was left out and why, and the diagnostics."""
    model = by_measure(run_data.select(section="outcome", analysis="C2", subject="model"))
    share = model.get("events_per_parameter")
    fitted = terms[terms["valid"]]
    if share is None or not share["valid"] or fitted.empty:
        return ""
    cells = [
        *_size(run_data, model, terms, fitted),
        ("Estimator", str(share["method"])),
        *_working(model),
        ("One patient left out", _influence(run_data)),
    ]
    kept = [(what, said) for what, said in cells if said]
    caption = "What went into the model, what was left out and why, and how it stands"
    return pipe_table(
        FACTS,
        kept,
        caption=caption,
        label="outcome-model",
        ids=[row["result_id"] for row in model.values()],
    )


def _size(
    run_data: RunData, model: dict[str, Row], terms: pd.DataFrame, fitted: pd.DataFrame
) -> list[tuple[str, str]]:
    first, share = fitted.iloc[0], model["events_per_parameter"]
    out = terms[~terms["valid"] & terms["reason"].str.startswith("left out")]
    reasons = out["reason"].str.removeprefix("left out: ")
    left = "; ".join(
        f"{', '.join(name_of(name) for name in out.loc[reasons == reason, 'subject'])} ({reason})"
        for reason in dict.fromkeys(reasons)
    )
    teeth = f"{counted(first['n_used'], 'tooth', 'teeth')} in {count_cell(first['n_clusters'])}"
    return [
        ("Terms that went in", ", ".join(name_of(name) for name in fitted["subject"])),
        ("Left out", left or "no declared term"),
        ("Teeth", f"{teeth} patients; {_largest(model)}"),
        ("Set aside", _aside(run_data, int(first["n_missing"]))),
        (
            "Events and parameters",
            f"{count_cell(model['events']['estimate'])} for "
            f"{count_cell(model['parameters']['estimate'])}, "
            f"{number(share['estimate'], 1)} a parameter (the scarcer of healed and not healed)",
        ),
        ("Notes", _notes(str(share["reason"]))),
    ]


def _notes(reason: str) -> str:
    """Return the notes of the fit without those that the line of terms left out tells."""
    told = ("left out", "allow no more covariates")
    parts = [part for part in reason.split("; ") if not any(word in part for word in told)]
    return "; ".join(parts)


def _largest(model: dict[str, Row]) -> str:
    row = model.get("largest_patient")
    return "" if row is None else f"at most {count_cell(row['estimate'])} of one patient"


def _aside(run_data: RunData, aside: int) -> str:
    rows = run_data.select(section="outcome", analysis="C2", measure="missing_values")
    missing = [
        f"{name_of(row['subject'])} {int(row['numerator'])}"
        for _, row in rows[rows["numerator"] > 0].iterrows()
    ]
    words = f"{counted(aside, 'tooth', 'teeth')} for a missing value"
    where = f"; missing by term: {', '.join(missing)}" if missing else ""
    return f"{words}{where}" if aside or missing else "no tooth"


def _working(model: dict[str, Row]) -> list[tuple[str, str]]:
    correlation, steps = model.get("working_correlation"), model.get("steps")
    found = []
    if correlation is not None and correlation["valid"]:
        found.append(("Correlation within patients", number(correlation["estimate"])))
    if steps is not None and steps["valid"]:
        words = f"settled after {counted(steps['estimate'], 'step')}; no separation"
        found.append(("Convergence", words))
    return found


def _influence(run_data: RunData) -> str:
    said = []
    measure = "odds_ratio_without_one_patient_{}"
    lowest = run_data.select(section="outcome", analysis="C2", measure=measure.format("lowest"))
    for _, low in lowest.iterrows():
        high = run_data.one(
            section="outcome", analysis="C2", measure=measure.format("highest"),
            subject=low["subject"],
        )  # fmt: skip
        level = name_of(low["subject"])
        if high is None or not low["valid"]:
            said.append(f"{level}: {low['reason']}")
            continue
        ends = f"{number(low['estimate'])} and {number(high['estimate'])}"
        said.append(f"the odds ratio of {level} stays between {ends} whoever is left out")
    return "; ".join(said)


def outcome_calibration(run_data: RunData) -> str:
    """Return expected beside seen shares of the adjusted model, drawn and as a table."""
    rows = run_data.select(section="outcome", analysis="C2", measure="seen_share")
    expected = run_data.select(section="outcome", analysis="C2", measure="expected_share")
    if rows.empty:
        return NOT_ANALYSED
    by_group = {row["subject"]: row for _, row in expected.iterrows()}
    cells = [
        (
            name_of(row["subject"]),
            counts_cell(row),
            hundred_cell(row),
            hundred_interval_cell(row),
            hundred_cell(by_group.get(row["subject"])),
        )
        for _, row in rows.iterrows()
    ]
    caption = "The adjusted model against the teeth it was fitted to"
    table = pipe_table(
        CALIBRATION, cells, caption=caption, label="outcome-calibration", ids=rows["result_id"]
    )
    drawn = place(calibration_figure(run_data), "outcome-calibration")
    note = (
        "The model is held against its own teeth, so this shows whether its form fits and not "
        "how it would do elsewhere; it is not for telling the risk of one patient."
    )
    return "\n\n".join(part for part in (drawn, table, note) if part) + "\n"
