"""Coefficients, growth with length, readers and shares of discordant canals (A5, A8-A10)."""

from lengthwise.report import escape
from lengthwise.report.held import COEFFICIENTS, PAIRED_SHARES, READERS_HELD
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.agreement_lines import lines_table
from lengthwise.report.sections.common import (
    by_measure,
    count_cell,
    counts_cell,
    hundred_cell,
    hundred_interval_cell,
    interval_cell,
    value_cell,
)
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import is_certain, name_of, number

CONFIRMED = "confirmed"
READER_MEASURES = {
    "reader_bias": "filling end, second minus first read (mm)",
    "reader_lower_limit": "lower limit of agreement (mm)",
    "reader_upper_limit": "upper limit of agreement (mm)",
    "reader_icc_a_1": "intraclass correlation, ICC(A,1)",
    "raw_agreement": "PAI, same grade (share)",
    "weighted_kappa": "PAI, weighted kappa (squared steps)",
    "gwet_ac2": "PAI, Gwet's AC2 (squared steps)",
    "krippendorff_alpha": "PAI, Krippendorff's alpha (ordinal)",
}
READERS = {"two_readers": "two readers", "one_reader_twice": "one reader twice"}
NO_CORRELATION = (
    "Correlation is no measure of agreement and is not given: two methods may rise together "
    "and still lie millimetres apart."
)


def coefficients_section(run_data: RunData) -> str:
    """Return concordance, ICC, deviation index, equivalence and slope by method."""
    rows = run_data.select(section="agreement", reference=CONFIRMED)
    rows = rows[rows["analysis"].isin(["A5", "A8"])]
    if rows.empty:
        return "No method has coefficients in this run.\n"
    margin = float(run_data.setting("thresholds", "tolerance_mm", default=0.5))
    cells = [
        (name_of(str(subject)), *_coefficients(by_measure(own), margin))
        for subject, own in rows.groupby("subject", sort=False)
    ]
    columns = (
        text("Method"),
        figure("Canals"),
        figure("Concordance"),
        figure("ICC(A,1)"),
        figure("90 in 100 within (mm)"),
        text(f"Mean equivalent within {number(margin, 1)} mm (90% interval)"),
        figure("Growth of difference (mm per mm)"),
    )
    caption = "Coefficients of each method against the confirmed length, with 95% intervals"
    table = pipe_table(
        columns, cells, caption=caption, label="coefficients", ids=rows["result_id"]
    )
    said = escape.markdown(f"{COEFFICIENTS} {NO_CORRELATION}")
    below = (said, lines_table(run_data), shares_compared(run_data))
    return "\n\n".join([table, *(part for part in below if part)]) + "\n"


def _coefficients(found: dict[str, Row], margin: float) -> tuple[str, ...]:
    index = found["deviation_index_90"]
    return (
        count_cell(found["concordance"]["n_used"]),
        _with_interval(found["concordance"], 3),
        _with_interval(found["icc_a_1"], 3),
        value_cell(index),
        _equivalence(found["equivalence_bias_90"], margin),
        _with_interval(found["slope_on_mean"], 3, signed=True),
    )


def _with_interval(row: Row, decimals: int, *, signed: bool = False) -> str:
    interval = interval_cell(row, decimals, signed=signed)
    value = value_cell(row, decimals, signed=signed)
    return f"{value} ({interval})" if interval else value


def _equivalence(row: Row, margin: float) -> str:
    """Say whether the 90% interval of the bias lies inside the margin, as the test asks."""
    if not row["valid"]:
        return value_cell(row)
    inside = -margin < row["lower"] and row["upper"] < margin
    return f"{'yes' if inside else 'not shown'} ({interval_cell(row, signed=True)})"


def shares_compared(run_data: RunData) -> str:
    """Return how the shares within tolerance of two methods differ on the same canals."""
    rows = run_data.select(section="agreement", analysis="A6", measure="share_difference")
    if rows.empty:
        return ""
    cells = [
        (
            name_of(row["subject"]), name_of(row["reference"]), count_cell(row["n_used"]),
            _points(row, "estimate") if row["valid"] else value_cell(row),
            f"{_points(row, 'lower')} to {_points(row, 'upper')}" if row["valid"] else "",
        )
        for _, row in rows.iterrows()
    ]  # fmt: skip
    columns = (
        text("First"),
        text("Second"),
        figure("Canals read by both"),
        figure("First minus second, per 100"),
        figure("95% interval, per 100"),
    )
    tolerance = float(run_data.setting("thresholds", "tolerance_mm", default=0.5))
    caption = (
        f"Canals within {number(tolerance, 1)} mm of the confirmed length: two methods on the "
        "same canals"
    )
    table = pipe_table(
        columns, cells, caption=caption, label="shares-compared", ids=rows["result_id"]
    )
    return f"{table}\n{escape.markdown(str(PAIRED_SHARES))}"


def _points(row: Row, end: str) -> str:
    return number(100 * row[end], 0, signed=True)


def readers_section(run_data: RunData) -> str:
    """Return agreement of readers, for fillings in mm and for PAI in grades."""
    rows = run_data.estimates
    rows = rows[(rows["analysis"] == "A9") & rows["measure"].isin(READER_MEASURES)]
    if rows.empty:
        return "No film was read twice.\n"
    cells = [
        (
            READERS.get(str(row["stratum"]), str(row["stratum"])),
            READER_MEASURES[row["measure"]],
            count_cell(row["n_used"]),
            value_cell(row),
            interval_cell(row),
        )
        for _, row in rows.iterrows()
    ]
    columns = (
        text("Readers"),
        text("What"),
        figure("Films"),
        figure("Value"),
        figure("95% interval"),
    )
    caption = "Films read by two readers, or twice by one"
    table = pipe_table(columns, cells, caption=caption, label="readers", ids=rows["result_id"])
    return f"{table}\n{escape.markdown(str(READERS_HELD))}\n"


def discordant_shares(run_data: RunData) -> str:
    """Return how often a condition was recorded among discordant and other canals."""
    rows = run_data.estimates
    rows = rows[(rows["analysis"] == "A10") & (rows["measure"] == "share_with_condition")]
    if rows.empty:
        return ""
    cells = [
        (
            f"{name_of(row['subject'])} minus {name_of(row['reference'])}",
            "beyond the review threshold" if row["stratum"] == "discordant" else "the others",
            counts_cell(row),
            hundred_cell(row),
            hundred_interval_cell(row),
        )
        for _, row in rows.iterrows()
    ]
    columns = (
        text("Methods"),
        text("Canals"),
        figure("With a recorded condition"),
        figure("Per 100"),
        figure("95% interval, per 100"),
    )
    caption = (
        "Canals with at least one recorded condition that could explain a difference, at the "
        "reading of each method that lies farthest from the other method"
    )
    table = pipe_table(
        columns, cells, caption=caption, label="discordant-shares", ids=rows["result_id"]
    )
    said = escape.markdown(_difference_sentence(run_data))
    return f"{table}\n{said}\n\n{_single_conditions(run_data)}\n"


def _single_conditions(run_data: RunData) -> str:
    """Return each condition's share among discordant canals and among the others."""
    rows = run_data.estimates
    rows = rows[(rows["analysis"] == "A10") & (rows["stratum_kind"] == "condition")]
    if rows.empty:
        return ""
    cells = []
    keys = ["subject", "reference", "stratum"]
    for (subject, reference, condition), own in rows.groupby(keys, sort=False):
        found = by_measure(own)
        pair = f"{name_of(str(subject))} minus {name_of(str(reference))}"
        shares = (found["share_discordant"], found["share_concordant"])
        shown = [part for row in shares for part in (counts_cell(row), _share_cell(row))]
        cells.append((pair, str(condition), *shown))
    columns = (
        text("Methods"),
        text("Condition"),
        figure("Discordant"),
        figure("Per 100 (95% interval)"),
        figure("Others"),
        figure("Per 100 (95% interval)"),
    )
    caption = "Single recorded conditions among discordant canals and the others"
    return pipe_table(
        columns, cells, caption=caption, label="discordant-conditions", ids=rows["result_id"]
    )


def _share_cell(row: Row) -> str:
    interval = hundred_interval_cell(row)
    return f"{hundred_cell(row)} ({interval})" if interval else hundred_cell(row)


def _difference_sentence(run_data: RunData) -> str:
    """Say the two shares and their difference, or why it is not given."""
    rows = run_data.select(section="agreement", measure="share_with_condition_difference")
    said = []
    for _, row in rows.iterrows():
        pair = f"{name_of(row['subject']).capitalize()} minus {name_of(row['reference'])}"
        if not row["valid"]:
            said.append(f"{pair}: the shares are not compared ({row['reason']}).")
            continue
        low, high = (number(100 * row[end], 0, signed=True) for end in ("lower", "upper"))
        size = number(100 * row["estimate"], 0, signed=True)
        often = "about as often in discordant canals as in the others"
        if is_certain(row, 0.0):
            side = "more" if row["estimate"] > 0 else "less"
            often = f"{side} often in discordant canals than in the others"
        said.append(
            f"{pair}: a condition was recorded {often}, difference {size} in 100 "
            f"({low} to {high})."
        )
    return " ".join(said)


def discordant_counts(run_data: RunData) -> str:
    """Return one sentence per comparison: how many canals are on each list this quarter."""
    rows = run_data.select(section="agreement", analysis="A10")
    said = []
    chosen = rows[rows["measure"].isin(["canals_to_watch", "canals_to_review"])]
    watch, review = (
        float(run_data.setting("thresholds", name, default=value))
        for name, value in (("watch_mm", 0.5), ("review_mm", 1.0))
    )
    for (subject, reference), own in chosen.groupby(["subject", "reference"], sort=False):
        found = by_measure(own)
        listed, watched = found["canals_to_review"], found["canals_to_watch"]
        said.append(
            f"{name_of(str(subject)).capitalize()} minus {name_of(str(reference))}: "
            f"{counts_cell(listed)} canals of the quarter differ by more than "
            f"{number(review, 1)} mm, and {counts_cell(watched)} by more than "
            f"{number(watch, 1)} mm but no more than that."
        )
    return escape.markdown(" ".join(said)) + "\n" if said else ""
