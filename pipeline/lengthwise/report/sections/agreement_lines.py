"""Lines between a method and the confirmed length, both with error (A5)."""

from lengthwise.report import escape
from lengthwise.report.held import LINES as LINES_HELD
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import by_measure, count_cell, interval_cell, value_cell
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import name_of, number

LINES = ("deming_slope", "deming_intercept", "passing_bablok_slope", "passing_bablok_intercept")
READ = (
    "A slope of 1 and an intercept of 0 mean that two methods agree at every length. Deming "
    "takes both methods as uncertain; {ratio}. Passing-Bablok asks for no shape of the errors, "
    "but for independent pairs: one canal of each patient is drawn, the same in every run."
)
EQUAL = (
    "where both were read repeatedly the ratio of their error variances is worked out from the "
    "repeats, and is otherwise taken as 1"
)


def lines_table(run_data: RunData) -> str:
    """Return both lines of every method against the confirmed length."""
    rows = run_data.select(section="agreement", analysis="A5", reference="confirmed")
    rows = rows[rows["measure"].isin([*LINES, "error_variance_ratio"])]
    if rows.empty:
        return ""
    cells = []
    for subject, own in rows.groupby("subject", sort=False):
        found = by_measure(own)
        pair = (found.get("deming_slope"), found.get("passing_bablok_slope"))
        counts = (count_cell(None if row is None else row["n_used"]) for row in pair)
        shown = [_with_interval(found.get(measure)) for measure in LINES]
        cells.append(
            (name_of(str(subject)), next(counts), *shown[:2], next(counts), *shown[2:])
        )
    columns = (
        text("Method"),
        figure("Canals"),
        figure("Deming slope"),
        figure("Deming intercept (mm)"),
        figure("Patients"),
        figure("Passing-Bablok slope"),
        figure("Passing-Bablok intercept (mm)"),
    )
    caption = "Lines of each method on the confirmed length, with 95% intervals"
    table = pipe_table(columns, cells, caption=caption, label="lines", ids=rows["result_id"])
    said = f"{READ.format(ratio=_ratios(rows))} {LINES_HELD}"
    return f"{table}\n{escape.markdown(said)}\n"


def _with_interval(row: Row | None) -> str:
    value, interval = value_cell(row, 3), interval_cell(row, 3)
    return f"{value} ({interval})" if interval else value


def _ratios(rows: Row) -> str:
    known = rows[(rows["measure"] == "error_variance_ratio") & rows["valid"]]
    if known.empty:
        return EQUAL
    named = (
        f"{name_of(str(row['subject']))} {number(row['estimate'])}"
        for _, row in known.iterrows()
    )
    return f"{EQUAL} ({', '.join(named)})"
