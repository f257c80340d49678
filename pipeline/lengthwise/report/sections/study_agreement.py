"""Slides on length methods: every pair, the confirmed length, own errors, conditions."""

from dataclasses import replace

import pandas as pd

from lengthwise.report.cautions import INCORPORATION
from lengthwise.report.figures.conditions import conditions, level_name
from lengthwise.report.figures.method_matrix import method_matrix
from lengthwise.report.figures.own_errors import own_errors
from lengthwise.report.held import CONDITIONS, OWN_ERRORS
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.agreement_conditions import NOTE
from lengthwise.report.sections.agreement_errors import ASSUMPTION, EXPLAINED
from lengthwise.report.sections.common import (
    by_measure,
    count_cell,
    hundred_cell,
    interval_cell,
    is_masked,
    value_cell,
)
from lengthwise.report.sections.study_common import (
    READ_INTERVALS,
    WIDE,
    carried_note,
    figure_slide,
    only_for,
    placed,
    slide,
    slide_table,
)
from lengthwise.report.tables import MASKED, figure, text
from lengthwise.report.wording import is_certain, name_of, number, sentence

ROWS_AT_MOST = 7
MAIN = "electronic"
ABSENT = "Not enough canals were read by two methods to compare them."


def matrix(run_data: RunData) -> str:
    """Return the slide with every pair of methods; a page has the values as a table too."""
    drawn, title = (
        method_matrix(run_data),
        "Every pair of methods: bias, limits of agreement and n",
    )
    notes = (
        "Each square compares two methods on the same canals: row minus column. Below the "
        "diagonal stands the mean difference, above it the limits of agreement.",
        "A narrow pair of limits means that two methods read alike, not that either is right.",
        carried_note(run_data.select(section="agreement", analysis="A2")),
    )
    if drawn is None:
        return slide(title, f"{ABSENT}\n", notes)
    pairs = _pairs(run_data)
    caption = "Pairs of methods: first minus second"
    columns = (text("First"), text("Second"), figure("n"), figure("Bias, mm (95%)"))
    table = slide_table((*columns, figure("Limits, mm")), pairs, caption, "pairs")
    image = placed(replace(drawn, width_inch=WIDE[0], height_inch=WIDE[1]), "study-matrix")
    body = f"{image}\n{only_for('html', table)}"
    every = "; ".join(
        f"{first} minus {second}: bias {bias}, limits {limits}, n {n}"
        for first, second, n, bias, limits in pairs
    )
    words = (drawn.headline, f"In words: {drawn.alt_text}", f"All pairs, in mm: {every}.")
    return slide(title, body, notes, words)


def _pairs(run_data: RunData) -> list[tuple[str, ...]]:
    rows = run_data.select(section="agreement", analysis="A2")
    return [
        (name_of(str(first)), name_of(str(second)), *_agreement(by_measure(own))[:3])
        for (first, second), own in rows.groupby(["subject", "reference"], sort=False)
    ]


def against_confirmed(run_data: RunData) -> str:
    """Return the slide with the values against the confirmed length."""
    rows = run_data.select(section="agreement", reference="confirmed")
    rows = rows[rows["analysis"].isin(("A2", "A6"))]
    cells = [
        (name_of(str(subject)), *_agreement(by_measure(own)))
        for subject, own in rows.groupby("subject", sort=False)
    ][:ROWS_AT_MOST]
    columns = (
        text("Method"),
        figure("n"),
        figure("Bias, mm (95%)"),
        figure("Limits, mm"),
        figure("Within 0.5 mm, per 100"),
    )
    caption = "Each method minus the confirmed length"
    body = slide_table(columns, cells, caption, "confirmed") if cells else f"{ABSENT}\n"
    notes = (
        "A bias above 0 means that the method reads longer than the confirmed length.",
        INCORPORATION,
        READ_INTERVALS,
        carried_note(rows),
    )
    return slide("Against the confirmed length (agreement, not accuracy)", body, notes)


def _agreement(found: dict[str, Row]) -> tuple[str, ...]:
    bias, lower, upper = (found.get(name) for name in ("bias", "lower_limit", "upper_limit"))
    first = bias if bias is not None else next(iter(found.values()))
    share = found.get("share_within_0_5")
    return (
        count_cell(first["n_used"]) or MASKED,
        _with_interval(bias, signed=True),
        "" if lower is None or upper is None or not (lower["valid"] and upper["valid"]) else
        f"{value_cell(lower, signed=True)} to {value_cell(upper, signed=True)}",
        hundred_cell(share) if share is not None and (share["valid"] or is_masked(share)) else "",
    )  # fmt: skip


def _with_interval(row: Row | None, *, signed: bool = False) -> str:
    if row is None:
        return ""
    value, interval = value_cell(row, signed=signed), interval_cell(row, signed=signed)
    return f"{value} ({interval})" if interval else value


def own_error(run_data: RunData) -> str:
    """Return the slide with the scatter of each method by itself."""
    rows = run_data.select(section="agreement", analysis="A4", measure="own_sd")
    cells = [
        (name_of(row["subject"]), count_cell(row["n_used"]) or MASKED, _with_interval(row))
        for _, row in rows.iterrows()
    ][:ROWS_AT_MOST]
    columns = (text("Method"), figure("n"), figure("Own SD, mm (95%)"))
    caption = "Own SD of one reading"
    beside = slide_table(columns, cells, caption, "own-errors") if cells else ""
    notes = (EXPLAINED, f"{OWN_ERRORS} {ASSUMPTION}", carried_note(rows))
    absent = "No canal was read by methods enough to tell their own errors."
    title = "Each method's own error, with no method taken as the truth"
    return figure_slide(title, own_errors(run_data), "study-own-errors", beside, notes, absent)


def conditions_slide(run_data: RunData) -> str:
    """Return the slide on conditions of the electronic reading."""
    rows = run_data.estimates
    rows = rows[(rows["analysis"] == "A7") & (rows["subject"] == MAIN)]
    drawn = conditions(run_data, MAIN) if len(rows) else None
    cells = _condition_cells(rows)
    columns = (text("Level"), figure("n"), figure("Shift, mm (95%)"), figure("SD ratio"))
    caption = "Electronic reading by condition, adjusted for the others"
    beside = slide_table(columns, cells, caption, "conditions") if cells else ""
    notes = (
        "A shift below 0: under that condition the electronic reading was shorter, beside the "
        "confirmed length, than under its reference condition. An SD ratio of 2 means twice "
        "the scatter.",
        f"{NOTE} {CONDITIONS}",
        carried_note(rows),
    )
    absent = "No condition was recorded in two levels with enough readings."
    title = "When the electronic reading goes with a shift or more scatter"
    return figure_slide(title, drawn, "study-conditions", beside, notes, absent)


def _condition_cells(rows: pd.DataFrame) -> list[tuple[str, ...]]:
    cells = []
    for (kind, stratum), own in rows.groupby(["stratum_kind", "stratum"], sort=False):
        found = by_measure(own)
        shift, ratio = found.get("bias_shift_adjusted"), found.get("sd_ratio_adjusted")
        if shift is None or "reference level" in str(shift["reason"]):
            continue
        name = level_name(str(kind), str(stratum))
        count = MASKED if is_masked(shift) else count_cell(shift["numerator"])
        cells.append((name, count, _with_interval(shift, signed=True), value_cell(ratio, 1)))
    return cells[:ROWS_AT_MOST]


def largest_shift(run_data: RunData) -> str:
    """Return the condition with the largest certain shift in words, empty where none is."""
    rows = run_data.estimates
    rows = rows[
        (rows["analysis"] == "A7") & (rows["subject"] == MAIN)
        & (rows["measure"] == "bias_shift_adjusted")
    ]  # fmt: skip
    certain = [row for _, row in rows.iterrows() if is_certain(row, 0.0)]
    if not certain:
        return ""
    row = max(certain, key=lambda found: abs(found["estimate"]))
    name = level_name(row["stratum_kind"], row["stratum"])
    side = "longer" if row["estimate"] > 0 else "shorter"
    return sentence(f"Readings with {name} were {number(abs(row['estimate']))} mm {side}")
