"""This quarter beside the quarter before and the same quarter of the year before."""

from collections.abc import Iterable

import pandas as pd

from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import NOT_ANALYSED, counts_cell, refusal_cell
from lengthwise.report.tables import Column, figure, pipe_table, text
from lengthwise.report.wording import criterion_name, in_hundred, is_certain, name_of, number

KINDS = ("previous_quarter", "quarter_last_year")
KIND = "comparison"
WITHIN = "_within_tolerance"
NOTE = (
    "Points are in 100. A change is certain where its interval lies on one side of nought; "
    "those are marked with an asterisk. A change in time has many possible reasons."
)


def change(run_data: RunData, name: str, kind: str) -> Row | None:
    """Return a measure's change since an earlier quarter, None where there is none."""
    return _one(run_data, name, kind, "share_change")


def earlier_quarter(run_data: RunData, kind: str) -> str:
    """Return the quarter that a kind of comparison means in this run, empty where unknown."""
    rows = _rows(run_data)
    rows = rows[rows["stratum"] == kind]
    return "" if rows.empty else str(rows["reference"].iloc[0])


def comparisons(run_data: RunData) -> str:
    """Return every compared measure: now, then, and the change in points with its interval."""
    rows = _rows(run_data)
    if rows.empty:
        return NOT_ANALYSED
    names = [str(name) for name in dict.fromkeys(rows["subject"])]
    table = comparison_table(run_data, names, label="comparisons", ids=rows["result_id"])
    return f"{table}\n{NOTE}\n"


def compared_rows(run_data: RunData, names: list[str]) -> pd.DataFrame:
    """Return the results behind the table of some measures."""
    rows = _rows(run_data)
    return rows[rows["subject"].isin(names)]


def comparison_table(
    run_data: RunData, names: list[str], *, label: str, ids: Iterable[str] = ()
) -> str:
    """Return the table of some measures; those that were not compared are left out."""
    rows = compared_rows(run_data, names)
    kinds = [kind for kind in KINDS if earlier_quarter(run_data, kind)]
    if rows.empty:
        return ""
    cells = [
        (
            measure_name(run_data, name),
            *_now(run_data, name, kinds[0]),
            *(_change_cell(change(run_data, name, kind)) for kind in kinds),
        )
        for name in names
        if change(run_data, name, kinds[0]) is not None
    ]
    columns: list[Column] = [
        text("Measure"), figure(f"In {run_data.run['period']}"),
        figure("Per 100 (95% interval)"), figure("Target"),
    ]  # fmt: skip
    columns += [figure(f"Since {earlier_quarter(run_data, kind)} (points)") for kind in kinds]
    caption = "This quarter beside the quarter before and the same quarter last year"
    return pipe_table(columns, cells, caption=caption, label=label, ids=ids)


def measure_name(run_data: RunData, name: str) -> str:
    """Return the words for a compared measure."""
    if name.endswith(WITHIN):
        method = name_of(name.removesuffix(WITHIN))
        tolerance = float(run_data.setting("thresholds", "tolerance_mm", default=0.5))
        return _capital(f"{method} within {number(tolerance, 1)} mm of the confirmed length")
    return _capital(criterion_name(run_data, name))


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _rows(run_data: RunData) -> pd.DataFrame:
    return run_data.select(section="comparisons", stratum_kind=KIND)


def _one(run_data: RunData, name: str, kind: str, measure: str) -> Row | None:
    return run_data.one(
        section="comparisons", stratum_kind=KIND, stratum=kind, subject=name, measure=measure
    )


def _now(run_data: RunData, name: str, kind: str) -> tuple[str, str, str]:
    row = _one(run_data, name, kind, "share_now")
    if row is None:
        return "", "", ""
    target = "" if pd.isna(row["target"]) else in_hundred(row["target"])
    if not row["valid"]:
        return counts_cell(row), refusal_cell(row), target
    ends = f"{in_hundred(row['lower'])} to {in_hundred(row['upper'])}"
    return counts_cell(row), f"{in_hundred(row['estimate'])} ({ends})", target


def _change_cell(row: Row | None) -> str:
    if row is None:
        return ""
    if not row["valid"]:
        return refusal_cell(row)
    points = [number(100 * row[end], 0, signed=True) for end in ("estimate", "lower", "upper")]
    mark = "*" if is_certain(row, 0.0) else ""
    return f"{points[0]} ({points[1]} to {points[2]}){mark}"
