"""How many cases a wanted precision or change needs, and when this practice will have them."""

import math
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from typing import Any

import pandas as pd

from lengthwise.analyse.due import last_day_of
from lengthwise.analyse.measures import all_measures
from lengthwise.errors import AnalysisError, SettingsError
from lengthwise.periods import Quarter
from lengthwise.settings import Settings
from lengthwise.statistics import planning
from lengthwise.statistics.design_effect import design_effect_of_mean
from lengthwise.statistics.results import Estimate
from lengthwise.store.criteria import criterion_cases
from lengthwise.store.database import Connection
from lengthwise.store.results import mart

DAYS_A_MONTH = 30.4375
AIMS = ("limit", "bias", "share", "change")


@dataclass(frozen=True, slots=True)
class Wish:
    """What is wanted; numbers that are None are taken from the practice's own record.

    Attributes
    ----------
    aim : str
        One of AIMS.
    half_width : float or None
        Of the interval, in mm (limit, bias) or as a share.
    share, after : float or None
        Expected share, and for a change the share afterwards.
    population : int or None
        All cases there are, for a share.
    """

    aim: str
    half_width: float | None = None
    share: float | None = None
    after: float | None = None
    sd_mm: float | None = None
    design_effect: float | None = None
    population: int | None = None
    power: float = 0.8
    by_month: str | None = None


@dataclass(frozen=True, slots=True)
class Present:
    """What the practice has on record: cases, their spread, share and likeness."""

    unit: str
    cases: int
    sd_mm: float | None
    share: float | None
    design_effect: float | None
    first_day: date
    last_day: date


def present_state(cases: pd.DataFrame, values: pd.Series, unit: str, last_day: date) -> Present:
    """Return the state from rows with `patient_id` and `quarter`, and one value a row.

    Raises
    ------
    AnalysisError
        There is no case.
    """
    known = values.notna()
    if not known.any():
        raise AnalysisError(f"there are no {unit} on record to plan from")
    number = values[known].astype(float)
    found = design_effect_of_mean(number.to_numpy(), cases["patient_id"][known].to_numpy())
    first = str(cases["quarter"][known].min())
    is_length = unit.startswith("canals")
    return Present(
        unit=unit,
        cases=int(known.sum()),
        sd_mm=float(number.std()) if is_length else None,
        share=None if is_length else float(number.mean()),
        design_effect=max(found.estimate, 1.0) if found.valid else None,
        first_day=date(int(first[:4]), 3 * int(first[-1]) - 2, 1),
        last_day=last_day,
    )


def present_of(
    connection: Connection, settings: Settings, aim: str, measure: str, quarter: Quarter
) -> Present:
    """Return the practice's state for an aim, from the derived tables.

    Raises
    ------
    SettingsError
        There is no such measure.
    """
    last_day = date.fromisoformat(last_day_of(quarter.last_month))
    if aim in ("limit", "bias"):
        pairs = mart(connection, "length_pairs")
        pairs = pairs[pairs["method"] == "electronic"].reset_index(drop=True)
        unit = "canals with an electronic and a confirmed length"
        return present_state(pairs, pairs["difference_mm"], unit, last_day)
    cases_of = partial(criterion_cases, connection)
    measures = {
        item.name: item for item in all_measures(cases_of, mart(connection, "fills"), settings)
    }
    if measure not in measures:
        raise SettingsError(f"--measure must be one of {', '.join(measures)}")
    cases = measures[measure].cases.reset_index(drop=True)
    return present_state(cases, cases["is_met"], f"cases of {measure}", last_day)


def cases_needed(wish: Wish, present: Present | None) -> int:
    """Return the cases needed (for a change: in each of two periods), rounded up.

    Raises
    ------
    SettingsError
        A number is missing or out of range.
    """
    effect = wish.design_effect or (present and present.design_effect) or 1.0
    try:
        return math.ceil(round(_needed(wish, present, effect), 6))
    except ValueError as error:
        raise SettingsError(f"plan {wish.aim}: {error}") from None


def _needed(wish: Wish, present: Present | None, effect: float) -> float:
    if wish.aim in ("limit", "bias"):
        sd = wish.sd_mm or (present.sd_mm if present else None)
        sd_mm = _given(sd, "--sd-mm")
        half = _given(wish.half_width, "--half-width")
        if wish.aim == "limit":
            return planning.cases_for_limit(sd_mm, half) * effect
        return planning.cases_for_bias(sd_mm, half) * effect
    share = _given(wish.share or (present.share if present else None), "--share")
    if wish.aim == "share":
        return planning.cases_for_proportion(
            share, _given(wish.half_width, "--half-width"),
            population=wish.population, design_effect=effect,
        )  # fmt: skip
    return planning.cases_for_change(
        share, _given(wish.after, "--after"), power=wish.power, design_effect=effect
    )


def _given(value: Any, option: str) -> float:
    if value is None:
        raise SettingsError(f"plan needs {option}, which the record does not give")
    return float(value)


def reached_in(present: Present, needed: int) -> str:
    """Return the month in which as many new cases will have come at the present rate."""
    days = (present.last_day - present.first_day).days + 1
    ahead = needed * days / present.cases
    if ahead > 100 * 365.25:
        return "not within a hundred years"
    return (present.last_day + timedelta(days=math.ceil(ahead))).strftime("%Y-%m")


def expected_by(present: Present, month: str) -> Estimate:
    """Return the cases on record by the end of a month at the present rate.

    Raises
    ------
    SettingsError
        The month does not lie after the record.
    """
    by = date.fromisoformat(last_day_of(month))
    if by <= present.last_day:
        raise SettingsError("--by must lie after the last month on record")
    return planning.expected_cases(
        present.cases, first_day=present.first_day, last_day=present.last_day, by=by
    )


def answer(wish: Wish, present: Present | None) -> list[str]:
    """Return the plan in lines of text."""
    needed = cases_needed(wish, present)
    unit = present.unit if present else "cases"
    each = " in each of two periods" if wish.aim == "change" else ""
    lines = [f"Needed: {needed:,} {unit}{each} ({_basis(wish, present)})"]
    if present is None:
        return lines
    days = (present.last_day - present.first_day).days + 1
    rate = present.cases / days * DAYS_A_MONTH
    lines += [
        f"On record: {present.cases:,} {unit} from {present.first_day:%Y-%m} to "
        f"{present.last_day:%Y-%m}, {rate:.0f} a month",
        f"As many new ones at this rate{' for one period' if each else ''}: by "
        f"{reached_in(present, needed)}",
    ]
    if wish.by_month:
        found = expected_by(present, wish.by_month)
        lines.append(
            f"Expected on record by {wish.by_month}: {found.estimate:,.0f} "
            f"(95% prediction {found.lower:,.0f} to {found.upper:,.0f}), if the rate stays as it is"
            if found.valid
            else f"Expected by {wish.by_month}: not given; {found.reason}"
        )
    return lines


def _basis(wish: Wish, present: Present | None) -> str:
    effect = wish.design_effect or (present and present.design_effect) or 1.0
    sd_mm = wish.sd_mm or (present.sd_mm if present else None)
    share = wish.share or (present.share if present else None)
    said = {
        "limit": f"half width {wish.half_width} mm of a limit of agreement, SD {sd_mm or 0:.2f} mm",
        "bias": f"half width {wish.half_width} mm of the bias, SD {sd_mm or 0:.2f} mm",
        "share": f"half width {wish.half_width} of a share near {share or 0:.2f}",
        "change": f"from {share or 0:.2f} to {wish.after}, power {wish.power}",
    }[wish.aim]
    finite = f", of {wish.population:,} in all" if wish.population else ""
    return f"{said}{finite}, 95% level, design effect {effect:.2f} for patients with several"
