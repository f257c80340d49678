"""How far bias and spread of one method move with each recorded condition."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure, spoken
from lengthwise.report.figures.panels import Panel, interval_panels
from lengthwise.report.run_data import RunData
from lengthwise.report.wording import name_of, number, sentence

SHIFT = Panel("Shift of bias (mm)", 0.0)
RATIO = Panel("Ratio of SDs", 1.0)
KINDS = {"adjusted": "first", "crude": "second"}
# Shown by name only where enough people are compared.
PEOPLE = "clinician"


def condition_rows(run_data: RunData, method: str) -> pd.DataFrame:
    """Return the rows of A7 of one method in order, people only where there are enough."""
    rows = run_data.estimates
    own = rows[(rows["analysis"] == "A7") & (rows["subject"] == method)]
    least = int(run_data.setting("small_numbers", "minimum_clinicians", default=5))
    people = own[own["stratum_kind"] == PEOPLE]["stratum"].nunique()
    if people < least:
        own = own[own["stratum_kind"] != PEOPLE]
    return own.sort_values("position", kind="stable")


def level_name(kind: str, level: str) -> str:
    """Return the words of one level of a condition."""
    if kind == "calendar_time":
        return "calendar time, per year"
    if kind in ("stage", "tooth_type", "clinician"):
        return f"{name_of(kind)}: {name_of(level)}" if kind != "clinician" else level
    return name_of(level)


def conditions(run_data: RunData, method: str) -> Figure | None:
    """Return the figure of one method, or None where no contrast is valid."""
    rows = condition_rows(run_data, method)
    frame = pd.concat(
        [_part(rows, f"bias_shift_{adjusted}", SHIFT, kind) for adjusted, kind in KINDS.items()]
        + [_part(rows, f"sd_ratio_{adjusted}", RATIO, kind) for adjusted, kind in KINDS.items()]
    )
    if frame.empty:
        return None
    names = list(dict.fromkeys(frame.sort_values("position", kind="stable")["name"]))
    shifts = frame[(frame["panel"] == SHIFT.title) & (frame["kind"] == "first")]
    if shifts.empty:
        return None
    return Figure(
        plot=interval_panels(frame, (SHIFT, RATIO), names),
        headline=_headline(shifts, method),
        subtitle=(
            f"{name_of(method)} minus confirmed length: each level against its reference "
            f"level, n readings beside it; bars: 95% intervals by patient. Filled: adjusted "
            "for the other conditions; hollow: crude."
        ),
        alt_text=_alternative(shifts, method),
        result_ids=tuple(frame["result_id"]),
        height_inch=1.0 + 0.27 * len(names),
    )


def _headline(shifts: pd.DataFrame, method: str) -> str:
    """Name the largest shift that is certain; people and calendar time are not singled out."""
    own = shifts[~shifts["stratum_kind"].isin([PEOPLE, "calendar_time"])]
    certain = own[(own["lower"] > 0) | (own["upper"] < 0)]
    if certain.empty:
        return sentence(f"{name_of(method)}: no recorded condition shows a shift of bias")
    most = certain.loc[certain["estimate"].abs().idxmax()]
    low, high = (number(most[end], signed=True) for end in ("lower", "upper"))
    return sentence(
        f"{name_of(method)}: the largest shift of bias goes with {most['name']}: "
        f"{number(most['estimate'], signed=True)} mm ({low} to {high} mm)"
    )


def _part(rows: pd.DataFrame, measure: str, panel: Panel, kind: str) -> pd.DataFrame:
    own = rows[(rows["measure"] == measure) & rows["valid"]]
    names = [
        f"{level_name(row['stratum_kind'], row['stratum'])} (n {_count(row)})"
        for _, row in own.iterrows()
    ]
    return own.assign(name=names, panel=panel.title, kind=kind)


def _count(row: Any) -> int:
    return int(row["n_used"] if pd.isna(row["numerator"]) else row["numerator"])


def _alternative(shifts: pd.DataFrame, method: str) -> str:
    parts = [
        f"{row['name']} {number(row['estimate'], signed=True)} mm"
        for _, row in shifts.iterrows()
    ]
    return f"Points with bars, shift of bias of {name_of(method)}: {spoken(parts)}."
