"""Agreement of length methods: figures, the table against the confirmed length, the pairs."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.cautions import INCORPORATION
from lengthwise.report.figures import bland_altman, place
from lengthwise.report.figures.bland_altman_small import SPLITS, bland_altman_by
from lengthwise.report.figures.method_matrix import method_matrix
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.agreement_coefficients import (
    discordant_counts,
    discordant_shares,
)
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    by_measure,
    count_cell,
    hundred_cell,
    interval_cell,
    value_cell,
    warnings_note,
)
from lengthwise.report.tables import Column, callout, figure, pipe_table, text
from lengthwise.report.wording import counted, name_of, number

CONFIRMED = "confirmed"
FIGURES_AT_MOST = 3
LIMITS_AND_SHARES = ("A1", "A2", "A6")
COLUMNS = (
    figure("n"),
    figure("Missing"),
    figure("Bias (mm)"),
    figure("95% interval (mm)"),
    figure("Limits of agreement (mm)"),
    figure("Within 0.5 mm, per 100"),
    figure("Within 1.0 mm, per 100"),
)


def agreement_figures(run_data: RunData) -> str:
    """Return the caution and the figure of each main method, most canals first."""
    rows = run_data.select(section="agreement", reference=CONFIRMED, measure="bias")
    if rows.empty:
        return NOT_ANALYSED
    ordered = rows[rows["valid"]].sort_values("n_used", ascending=False, kind="stable")
    drawn = (
        place(bland_altman(run_data, method), f"agreement-{position}")
        for position, method in enumerate(dict.fromkeys(ordered["subject"]), start=1)
        if position <= FIGURES_AT_MOST
    )
    main = str(ordered["subject"].iloc[0]) if len(ordered) else ""
    panels = (
        place(bland_altman_by(run_data, main, split), f"agreement-by-{escape.slug(split)}")
        for split in SPLITS
    )
    caution = callout("caution", "Agreement is not accuracy", INCORPORATION)
    return "\n".join([caution, *(shown for shown in (*drawn, *panels) if shown)])


def agreement_table(run_data: RunData) -> str:
    """Return every method against the confirmed length, refused ones with their reason."""
    rows = run_data.select(section="agreement", reference=CONFIRMED)
    rows = rows[rows["analysis"].isin(LIMITS_AND_SHARES)]
    if rows.empty:
        return NOT_ANALYSED
    cells = [
        (name_of(str(subject)), *_measures(by_measure(own)))
        for subject, own in rows.groupby("subject", sort=False)
    ]
    caption = (
        "Each method against the confirmed length: method minus confirmed, above nought the "
        "method reads longer"
    )
    table = pipe_table(
        (text("Method"), *COLUMNS),
        cells,
        caption=caption,
        label="agreement",
        ids=rows["result_id"],
    )
    return f"{table}\n{_method_note(rows)}\n"


def pairs_table(run_data: RunData) -> str:
    """Return the comparisons that have no confirmed length in them, with their figure."""
    rows = run_data.select(section="agreement")
    rows = rows[(rows["reference"] != CONFIRMED) & (rows["reference"] != "")]
    rows = rows[rows["analysis"].isin(LIMITS_AND_SHARES)]
    parts = [place(method_matrix(run_data), "method-matrix")]
    if not rows.empty:
        cells = [
            (name_of(str(subject)), name_of(str(reference)), *_measures(by_measure(own)))
            for (subject, reference), own in rows.groupby(["subject", "reference"], sort=False)
        ]
        columns: tuple[Column, ...] = (text("First"), text("Second"), *COLUMNS)
        caption = "Pairs of methods: first minus second"
        parts.append(
            pipe_table(columns, cells, caption=caption, label="pairs", ids=rows["result_id"])
        )
    return "\n".join(part for part in parts if part) or NOT_ANALYSED


def discordant_canals(run_data: RunData) -> str:
    """Return the canals where two methods differ most, with the conditions recorded."""
    rows = run_data.listed("discordant_canals")
    around = (discordant_counts(run_data), discordant_shares(run_data))
    if rows.empty:
        return "\n".join(part for part in ("No canal is listed.\n", *around) if part)
    cells = [
        (
            row["treatment_id"],
            row["tooth"],
            row["canal"],
            number(row["value_mm"], signed=True),
            row["detail"],
        )
        for _, row in rows.iterrows()
    ]
    columns = (
        text("Treatment"),
        text("Tooth"),
        text("Canal"),
        figure("Difference (mm)"),
        text("Recorded conditions"),
    )
    caption = f"{counted(len(rows), 'canal')} to look at again, by treatment key"
    table = pipe_table(columns, cells, caption=caption, label="discordant")
    return "\n".join(part for part in (around[0], table, around[1]) if part)


def _measures(measures: dict[str, Row]) -> tuple[str, ...]:
    bias = measures.get("bias")
    first = bias if bias is not None else next(iter(measures.values()))
    return (
        count_cell(first["n_used"]),
        count_cell(first["n_missing"]),
        value_cell(bias, signed=True),
        interval_cell(bias, signed=True),
        _limits(measures.get("lower_limit"), measures.get("upper_limit")),
        _hundred(measures.get("share_within_0_5")),
        _hundred(measures.get("share_within_1_0")),
    )


def _limits(lower: Row | None, upper: Row | None) -> str:
    if lower is None or upper is None or not lower["valid"] or not upper["valid"]:
        return ""
    return f"{value_cell(lower, signed=True)} to {value_cell(upper, signed=True)}"


def _hundred(row: Row | None) -> str:
    return hundred_cell(row) if row is not None and row["valid"] else ""


def _method_note(rows: pd.DataFrame) -> str:
    methods = [name for name in dict.fromkeys(rows["method"]) if name]
    note = f"Estimators: {'; '.join(methods)}." if methods else ""
    return "\n\n".join(part for part in (escape.markdown(note), warnings_note(rows)) if part)
