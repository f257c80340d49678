"""Own error of each method, repeatability, and trend by month (A3, A4)."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.figures import place
from lengthwise.report.figures.bias_by_month import bias_by_month
from lengthwise.report.figures.own_errors import own_errors
from lengthwise.report.figures.repeatability import repeatability_figure
from lengthwise.report.held import OWN_ERRORS, REPEATS
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import (
    by_measure,
    count_cell,
    interval_cell,
    value_cell,
)
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import in_hundred, name_of, number

EXPLAINED = (
    "Where three or more methods read the same canals, the way they differ from one another "
    "shows how much each scatters by itself, although the true length is unknown. The own SD "
    "is that scatter: about two thirds of a method's readings lie within one own SD of the "
    "true length, once its bias is set aside."
)
APART = "a set of its own"
BELOW_NOUGHT = "estimated below 0"
ASSUMPTION = (
    "This holds if the errors of different methods have nothing to do with one another. Two "
    "readings that share a film or a person share error, and would then look more precise "
    "than they are; methods that share a film are therefore never put in one set."
)


def own_error_section(run_data: RunData) -> str:
    """Return the two sentences, the figure, the table and the check of the assumption (A4)."""
    rows = run_data.select(section="agreement", analysis="A4")
    if rows.empty:
        return "No canal was read by methods enough to tell their own errors.\n"
    if not rows["valid"].any():
        return f"Own errors are not given: {escape.markdown(str(rows.iloc[0]['reason']))}.\n"
    parts = [
        escape.markdown(EXPLAINED),
        place(own_errors(run_data), "own-errors"),
        _table(rows),
        escape.markdown(f"{OWN_ERRORS} {ASSUMPTION}"),
        _check(run_data),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _table(rows: pd.DataFrame) -> str:
    cells = []
    for subject, own in rows.groupby("subject", sort=False):
        found = by_measure(own)
        spread, rank = found.get("own_sd"), found.get("rank")
        chance = found.get("chance_most_precise")
        if spread is None:
            continue
        place_in_order = (
            f"{int(rank['estimate'])} ({int(rank['lower'])} to {int(rank['upper'])})"
            if rank is not None and rank["valid"]
            else ""
        )
        cells.append(
            (
                name_of(str(subject)) + (" *" if APART in str(spread["reason"]) else ""),
                count_cell(spread["n_used"]), value_cell(spread),
                interval_cell(spread), value_cell(found.get("relative_bias"), signed=True),
                interval_cell(found.get("relative_bias"), signed=True), place_in_order,
                in_hundred(chance["estimate"]) if chance is not None and chance["valid"] else "",
                "taken as 0" if BELOW_NOUGHT in str(spread["reason"]) else "",
            )
        )  # fmt: skip
    columns = (
        text("Method"),
        figure("Canals"),
        figure("Own SD (mm)"),
        figure("95% interval (mm)"),
        figure("Relative bias (mm)"),
        figure("95% interval (mm)"),
        figure("Place by precision"),
        figure("Smallest SD, per 100 resamples"),
        text("Variance below 0"),
    )
    caption = (
        "Each method's own error, with no method taken as the truth; * in a set of its own "
        "with two other methods, so without a place"
    )
    return pipe_table(
        columns, cells, caption=caption, label="own-errors", ids=rows["result_id"]
    )


def _check(run_data: RunData) -> str:
    """Say, in the words of the data, whether two methods share error."""
    rows = run_data.estimates
    rows = rows[(rows["analysis"] == "A4") & (rows["stratum_kind"] == "check")]
    said = []
    for name, own in rows.groupby("stratum", sort=False):
        found = by_measure(own)
        p_value, excess = found["shared_error_p_value"], found["shared_error_covariance"]
        which = "the ordered set" if name == "ranked" else "the set with both film readings"
        pair = f"{name_of(p_value['subject'])} and {name_of(p_value['reference'])}"
        if not p_value["valid"]:
            said.append(f"In {which} the assumption could not be checked: {p_value['reason']}.")
            continue
        verdict = (
            "more than chance explains: their errors are not independent"
            if p_value["estimate"] < 0.05
            else "no more than chance explains"
        )
        said.append(
            f"In {which} ({int(p_value['n_used'])} canals) {pair} vary together most, by "
            f"{number(excess['estimate'], 3)} mm² over the other pairs (p "
            f"{_p_words(float(p_value['estimate']))}), {verdict}."
        )
    return escape.markdown(" ".join(said))


def _p_words(value: float) -> str:
    return "under 0.001" if value < 0.001 else number(value, 3)


def repeatability_section(run_data: RunData) -> str:
    """Return the table of repeats by method and state, with one sentence that reads it (A3)."""
    rows = run_data.estimates
    rows = rows[(rows["analysis"] == "A3") & (rows["reference"] == "")]
    if rows.empty:
        return "No canal was read twice by one method at one stage.\n"
    cells = []
    for (subject, _, stratum), own in rows.groupby(
        ["subject", "stratum_kind", "stratum"], sort=False
    ):
        found = by_measure(own)
        spread, coefficient = found["within_sd"], found["repeatability_coefficient"]
        cells.append(
            (
                name_of(str(subject)), str(stratum) or "all readings",
                count_cell(spread["n_clusters"]), count_cell(spread["n_used"]),
                value_cell(spread), interval_cell(spread),
                value_cell(coefficient) if spread["valid"] else "",
            )
        )  # fmt: skip
    columns = (
        text("Method"),
        text("Readings"),
        figure("Canals read again"),
        figure("Readings"),
        figure("SD of repeats (mm)"),
        figure("95% interval (mm)"),
        figure("Repeatability coefficient (mm)"),
    )
    caption = "Repeated readings of one canal at one stage in one state"
    table = pipe_table(
        columns, cells, caption=caption, label="repeatability", ids=rows["result_id"]
    )
    drawn = place(repeatability_figure(run_data), "repeatability")
    held = escape.markdown(str(REPEATS))
    parts = (_repeat_sentence(rows), drawn, table, held, _single_sentence(run_data))
    return "\n\n".join(part for part in parts if part) + "\n"


def _repeat_sentence(rows: pd.DataFrame) -> str:
    whole = rows[(rows["stratum_kind"] == "") & rows["valid"]]
    said = [
        f"Two {name_of(row['subject'])} readings of one canal differ by less than "
        f"{number(row['estimate'])} mm in 95 of 100 pairs."
        for _, row in whole[whole["measure"] == "repeatability_coefficient"].iterrows()
    ]
    return escape.markdown(" ".join(said))


def _single_sentence(run_data: RunData) -> str:
    rows = run_data.select(section="agreement", analysis="A3")
    said = []
    for subject, own in rows[rows["reference"] != ""].groupby("subject", sort=False):
        found = by_measure(own)
        low, high = found["single_lower_limit"], found["single_upper_limit"]
        if low["valid"] and high["valid"]:
            said.append(
                f"A single {name_of(str(subject))} reading, rather than the mean of a canal's "
                f"readings, lies between {number(low['estimate'], signed=True)} and "
                f"{number(high['estimate'], signed=True)} mm of the confirmed length in 95 of "
                "100 readings."
            )
    return escape.markdown(" ".join(said))


def month_section(run_data: RunData) -> str:
    """Return the figure of bias by month."""
    return place(bias_by_month(run_data), "bias-by-month") or (
        "No method has three months with enough canals.\n"
    )
