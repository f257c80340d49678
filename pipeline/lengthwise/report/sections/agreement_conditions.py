"""Conditions under which a method reads otherwise: sentences, figure and table (A7)."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.figures import place
from lengthwise.report.figures.conditions import (
    PEOPLE,
    condition_rows,
    conditions,
    level_name,
)
from lengthwise.report.held import CONDITIONS
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import by_measure, interval_cell, refusal_cell
from lengthwise.report.tables import bullet_list, figure, pipe_table, text
from lengthwise.report.wording import is_certain, name_of, number

# Conditions of the reading itself get a sentence each; the others stand in the table.
SPOKEN = ("canal_state", "metal_contact", "file_size", "stage", "stability", "circuit")
SUBJECTS = {
    ("canal_state", "wet"): "wet readings",
    ("metal_contact", "metal contact"): "readings with metal contact",
    ("file_size", "small file"): "readings with a file three or more sizes under the apex",
    ("stability", "unstable"): "unstable readings",
    ("circuit", "circuit not checked"): "readings without a checked circuit",
}
NOTE = (
    "Shifts and ratios are associations: readings taken under one condition may differ from "
    "others in more than that condition."
)


def conditions_section(run_data: RunData) -> str:
    """Return, by method, sentences in the words of the data, the figure and the table."""
    rows = run_data.estimates
    methods = [str(name) for name in dict.fromkeys(rows[rows["analysis"] == "A7"]["subject"])]
    # A page for each method would hide the few that read otherwise under some condition.
    told = [name for name in methods if _is_told(condition_rows(run_data, name))]
    others = [name for name in methods if name not in told]
    parts = [*(_of_method(run_data, name) for name in told), _of_others(run_data, others)]
    shown = [part for part in parts if part]
    said = escape.markdown(f"{NOTE} {CONDITIONS}")
    return "\n\n".join([*shown, said]) + "\n" if shown else (
        "No condition was recorded in two levels with enough readings.\n"
    )  # fmt: skip


def _is_told(rows: pd.DataFrame) -> bool:
    """Return whether conditions of the reading itself were recorded, or any shift is certain."""
    if rows["stratum_kind"].isin(SPOKEN).any():
        return True
    shifts = rows[rows["measure"].eq("bias_shift_adjusted") & rows["stratum_kind"].ne(PEOPLE)]
    return any(is_certain(row, 0.0) for _, row in shifts.iterrows())


def _of_others(run_data: RunData, methods: list[str]) -> str:
    """Return one table of the methods whose bias no recorded condition shifts."""
    frames = {name: condition_rows(run_data, name) for name in methods}
    cells, ids = [], []
    for name, rows in frames.items():
        ids += list(rows["result_id"])
        for (kind, level), own in rows.groupby(["stratum_kind", "stratum"], sort=False):
            found = by_measure(own)
            shift, ratio = found["bias_shift_adjusted"], found["sd_ratio_adjusted"]
            if shift["valid"]:
                cells.append(
                    (name_of(name), level_name(str(kind), str(level)), f"{int(shift['numerator'])}"
                     if shift["numerator"] == shift["numerator"] else "",
                     _value(shift, signed=True), _value(ratio))
                )  # fmt: skip
    if not cells:
        return ""
    columns = (
        text("Method"), text("Level"), figure("Readings"), figure("Shift, adjusted (mm)"),
        figure("SD ratio, adjusted"),
    )  # fmt: skip
    caption = (
        "Methods whose bias shifts with no recorded condition of reading or tooth: each level "
        "against its reference"
    )
    table = pipe_table(columns, cells, caption=caption, label="conditions-others", ids=ids)
    return f"### Other methods\n\n{table}"


def _of_method(run_data: RunData, method: str) -> str:
    rows = condition_rows(run_data, method)
    if rows.empty:
        return ""
    label = escape.slug(method)
    parts = [
        f"### {escape.markdown(name_of(method).capitalize())}",
        _sentences(rows),
        place(conditions(run_data, method), f"conditions-{label}"),
        _table(rows, method, label),
        _complete_readings(rows),
    ]
    return "\n\n".join(part for part in parts if part)


def _complete_readings(rows: pd.DataFrame) -> str:
    """Say on how many complete readings shifts rest, and how many were set aside."""
    own = rows[rows["measure"].eq("bias_shift_adjusted") & rows["denominator"].notna()]
    own = own[own["stratum_kind"] != "calendar_time"]
    if own.empty:
        return ""
    used, aside = (_from_to(own[name].astype(int)) for name in ("denominator", "n_missing"))
    return escape.markdown(
        f"Crude and adjusted shifts and ratios rest on the same {used} readings, in which the "
        f"confirmed length and every condition above were recorded; {aside} were set aside for "
        "a blank."
    )


def _from_to(values: pd.Series) -> str:
    low, high = int(values.min()), int(values.max())
    return f"{low:,}" if low == high else f"{low:,} to {high:,}"


def _sentences(rows: pd.DataFrame) -> str:
    said = []
    chosen = rows[rows["stratum_kind"].isin(SPOKEN)]
    for (kind, level), own in chosen.groupby(["stratum_kind", "stratum"], sort=False):
        found = by_measure(own)
        if found["bias_shift_adjusted"]["valid"]:
            said.append(escape.markdown(condition_sentence(str(kind), str(level), found)))
    return bullet_list(said) if said else ""


def condition_sentence(kind: str, level: str, found: dict[str, Row]) -> str:
    """Return "wet readings were 0.15 mm shorter (0.05 to 0.25) and scattered 1.6 times as much".

    Without a shift or a ratio that its interval makes certain the sentence says so.
    """
    shift, ratio = found["bias_shift_adjusted"], found["sd_ratio_adjusted"]
    subject = SUBJECTS.get((kind, level), f"readings at the stage {name_of(level)}")
    n, total = (int(shift[key]) for key in ("numerator", "denominator"))
    words = f"{_shift_words(shift)} and {_ratio_words(ratio)}"
    return f"{subject[:1].upper()}{subject[1:]} {words}, in {n:,} of {total:,} readings."


def _shift_words(row: Row) -> str:
    size, ends = abs(row["estimate"]), sorted((abs(row["lower"]), abs(row["upper"])))
    if not is_certain(row, 0.0):
        low, high = (number(row[end], signed=True) for end in ("lower", "upper"))
        return f"showed no shift of bias ({low} to {high} mm)"
    side = "longer" if row["estimate"] > 0 else "shorter"
    return f"were {number(size)} mm {side} ({number(ends[0])} to {number(ends[1])})"


def _ratio_words(row: Row) -> str:
    if not row["valid"]:
        return f"their scatter is not given ({row['reason']})"
    interval = f"{number(row['lower'], 1)} to {number(row['upper'], 1)}"
    if not is_certain(row, 1.0):
        return f"showed no other scatter ({interval} times)"
    return f"scattered {number(row['estimate'], 1)} times as much ({interval})"


def _table(rows: pd.DataFrame, method: str, label: str) -> str:
    cells = []
    for (kind, level), own in rows.groupby(["stratum_kind", "stratum"], sort=False):
        found = by_measure(own)
        first = own.iloc[0]
        crude, adjusted = found["bias_shift_crude"], found["bias_shift_adjusted"]
        is_reference = adjusted["reason"] == "this is the reference level"
        cells.append(
            (
                level_name(str(kind), str(level)),
                f"{int(first['numerator'])}",
                _mean(found.get("level_bias")),
                _mean(found.get("level_sd"), signed=False),
                "reference" if is_reference else _value(adjusted, signed=True),
                "" if is_reference else number(crude["estimate"], signed=True),
                "" if is_reference else _value(found["sd_ratio_adjusted"]),
                "" if is_reference else number(found["sd_ratio_crude"]["estimate"]),
            )
        )
    columns = (
        text("Level"),
        figure("Readings"),
        figure("Bias (mm)"),
        figure("SD (mm)"),
        figure("Shift, adjusted (mm)"),
        figure("Crude (mm)"),
        figure("SD ratio, adjusted"),
        figure("Crude"),
    )
    caption = f"{name_of(method)} minus confirmed length by recorded condition"
    return pipe_table(
        columns, cells, caption=caption, label=f"conditions-{label}", ids=rows["result_id"]
    )


def _mean(row: Row | None, *, signed: bool = True) -> str:
    return "" if row is None else number(row["estimate"], signed=signed)


def _value(row: Row, *, signed: bool = False) -> str:
    if not row["valid"]:
        return refusal_cell(row)
    value = number(row["estimate"], signed=signed)
    return f"{value} ({interval_cell(row, signed=signed)})"
