"""Yes-or-no measures by case, that charts, clinicians and actions look at in one way."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pandas as pd

from lengthwise.settings import Settings
from lengthwise.statistics.proportions import clustered_proportion_of_rows

NOT_ASSESSABLE = "not_assessable"
FILL_LEVELS = ("within", "short", "beyond")
COLUMNS = [
    "patient_id",
    "clinician_id",
    "site_id",
    "treatment_id",
    "quarter",
    "month",
    "is_met",
]


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure.

    Attributes
    ----------
    name : str
        `fill_short`, or the id of a criterion.
    cases : DataFrame
        One row per case it applies to; `is_met` is True, False or missing.
    target : float or None
        0-1, from the criteria.
    higher_is_wanted : bool
    """

    name: str
    cases: pd.DataFrame
    target: float | None
    higher_is_wanted: bool


def fill_measures(fills: pd.DataFrame) -> list[Measure]:
    """Return the share of fillings at each level; the target belongs to the criterion."""
    assessed = fills[fills["level"] != NOT_ASSESSABLE]
    return [
        Measure(
            f"fill_{level}",
            assessed.assign(is_met=assessed["level"] == level)[COLUMNS],
            None,
            level == "within",
        )
        for level in FILL_LEVELS
    ]


# From a criterion to one row per case of its denominator.
CasesOf = Callable[[dict[str, Any]], pd.DataFrame]


def criterion_measure(cases_of: CasesOf, item: dict[str, Any]) -> Measure:
    """Return one criterion's cases, exceptions taken out."""
    cases = cases_of(item)
    return Measure(
        str(item["id"]),
        cases[~cases["is_exception"]][COLUMNS],
        float(item["target"]),
        item["direction"] == "at_least",
    )


def all_measures(cases_of: CasesOf, fills: pd.DataFrame, settings: Settings) -> list[Measure]:
    """Return the fill levels, then every criterion; a criterion goes before its namesake."""
    criteria = [criterion_measure(cases_of, item) for item in settings.criteria]
    named = {measure.name for measure in criteria}
    levels = [measure for measure in fill_measures(fills) if measure.name not in named]
    return [*levels, *criteria]


def by_month(cases: pd.DataFrame) -> pd.DataFrame:
    """Return met and n for each month on record, months without a known case included."""
    dated = cases[cases["month"].notna()]
    first, last = dated["month"].min(), dated["month"].max()
    months = [] if dated.empty else pd.period_range(first, last, freq="M").astype(str)
    known = dated[dated["is_met"].notna()]
    month = known["month"].astype(str)
    met = known["is_met"].astype(float).groupby(month).agg(["sum", "size"])
    table = met.reindex(months, fill_value=0).rename(columns={"sum": "met", "size": "n"})
    return table.astype(float).rename_axis("month").reset_index()


def in_order_of_keys(cases: pd.DataFrame) -> pd.DataFrame:
    """Return cases by month and, within a month, by their treatment's key as it is written."""
    written = cases["treatment_id"].astype(str)
    return cases.assign(written=written).sort_values(["month", "written"], kind="stable")


def design_effect(cases: pd.DataFrame) -> float:
    """Return how much wider patients with several cases make an interval, at least 1."""
    found = clustered_proportion_of_rows(
        cases["is_met"].to_numpy(dtype=float), cases["patient_id"].to_numpy()
    )
    return max(float(found.inflation), 1.0) if math.isfinite(found.inflation) else 1.0
