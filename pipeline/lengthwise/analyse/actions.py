"""Actions of the practice: what the file says, and whether the measure moved afterwards."""

import re
from typing import Any

import pandas as pd

from lengthwise.analyse.measures import Measure, by_month
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.errors import SettingsError
from lengthwise.periods import window
from lengthwise.settings import Settings
from lengthwise.statistics.process.period_change import (
    PeriodChange,
    period_change,
    sustained_change,
)
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import NAN, Estimate, refused

SECTION = "actions"
REQUIRED = ("gap", "action", "owner_role", "due", "measure", "status")
KNOWN = (*REQUIRED, "cause", "criterion", "from_month")
STATUSES = ("open", "done", "stopped")
# A better share within says little while short and beyond move against each other.
BESIDE_FILLS = ("fill_short", "fill_beyond")
_MONTH = re.compile(r"^\d{4}-(0[1-9]|1[0-2])$")
_VERDICTS = {
    "sustained": "the change has lasted: {run} months in a row on the wanted side of the "
    "earlier median, more than the {need} that chance usually gives",
    "not sustained": "the change is not sustained: the latest run on the wanted side of the "
    "earlier median is {run} months, not more than the {need} that chance usually gives",
    "too early to say": "too early to say whether it lasts: {after} months since, and a run "
    "longer than {need} is needed",
}


def checked_actions(settings: Settings) -> tuple[dict[str, Any], ...]:
    """Return the actions; raise SettingsError with the number of one that cannot be followed."""
    names = {str(item.get("id")) for item in settings.criteria} | set(BESIDE_FILLS)
    for number, item in enumerate(settings.actions, start=1):
        problem = _problem(item, names)
        if problem:
            raise SettingsError(f"actions.toml, action {number}: {problem}")
    return settings.actions


def _problem(item: dict[str, Any], criteria: set[str]) -> str:
    lacking = [key for key in REQUIRED if not str(item.get(key, "")).strip()]
    if lacking:
        return f"{', '.join(lacking)} is missing"
    unknown = sorted(set(item) - set(KNOWN))
    if unknown:
        return f"unknown entry {unknown[0]}; known are {', '.join(KNOWN)}"
    if item["status"] not in STATUSES:
        return f"status must be one of {', '.join(STATUSES)}"
    month, criterion = item.get("from_month"), item.get("criterion")
    if criterion is not None and str(criterion) not in criteria:
        return f"criterion must be an id of criteria.toml: {', '.join(sorted(criteria))}"
    if month is not None and not _MONTH.match(str(month)):
        return "from_month is written like 2026-05"
    if month is not None and criterion is None:
        return "from_month needs a criterion, whose share is compared before and after"
    return ""


def analyse_actions(rows: ResultRows, measures: list[Measure], settings: Settings) -> None:
    """Write B7 for every action that names a criterion and the month from which it holds."""
    named = {measure.name: measure for measure in measures}
    on_fills = {str(item["id"]) for item in settings.criteria if item["table"] == "fills"}
    for number, item in enumerate(checked_actions(settings), start=1):
        name, month = item.get("criterion"), item.get("from_month")
        if name is None or month is None:
            continue
        wanted = [str(name), *(BESIDE_FILLS if name in on_fills else ())]
        for each in dict.fromkeys(wanted):
            if each in named:
                _compare(rows, named[each], str(month), str(number), settings)


def _compare(
    rows: ResultRows, measure: Measure, month: str, number: str, settings: Settings
) -> None:
    cases = measure.cases[measure.cases["month"].notna()]
    later = [known for known in cases["month"].dropna().unique() if known >= month]
    is_after = cases["month"].isin(later).to_numpy()
    found = period_change(
        cases["is_met"].to_numpy(dtype=float, na_value=NAN), is_after,
        cases["patient_id"].to_numpy(), level=settings.confidence_level,
        minimum_cases=settings.small_numbers.minimum_denominator,
    )  # fmt: skip
    spans = [_span(cases[~is_after]), _span(cases[is_after])]
    whole = window(spans[0].split("..")[0] or month, spans[1].split("..")[-1] or month)
    topic = Topic(SECTION, "B7", whole)
    for name, part, span in (
        ("share_before", cases[~is_after], spans[0]),
        ("share_after", cases[is_after], spans[1]),
    ):
        _add_share(rows, topic, measure, number, name, part, span or month, month, settings)
    rows.add(
        topic, "share_change", measure.name, found.change, unit="proportion",
        reference=month, stratum=("action", number), n_clusters=found.n_clusters,
    )  # fmt: skip
    _add_sustained(rows, topic, measure, number, month, found)


def _span(cases: pd.DataFrame) -> str:
    if cases.empty:
        return ""
    return window(str(cases["month"].min()), str(cases["month"].max()))


def _add_share(
    rows: ResultRows, topic: Topic, measure: Measure, number: str, name: str,
    cases: pd.DataFrame, span: str, month: str, settings: Settings,
) -> None:  # fmt: skip
    known = cases[cases["is_met"].notna()]
    met, least = int(known["is_met"].sum()), settings.small_numbers.minimum_denominator
    if len(known) < least:
        value = refused(
            f"fewer than {least} cases: counts only", method="proportion",
            n_used=len(known), n_missing=len(cases) - len(known),
        )  # fmt: skip
    else:
        found = clustered_proportion_of_rows(
            known["is_met"].to_numpy(dtype=float), known["patient_id"].to_numpy()
        )
        value = found.wilson_icc if found.wilson_icc.valid else found.naive
    rows.add(
        topic, name, measure.name, value, unit="proportion", reference=month,
        stratum=("action", number), numerator=met, denominator=len(known),
        target=measure.target, period=span,
    )  # fmt: skip


def _add_sustained(
    rows: ResultRows, topic: Topic, measure: Measure, number: str, month: str,
    found: PeriodChange,
) -> None:  # fmt: skip
    months = by_month(measure.cases)
    share = (months["met"] / months["n"]).where(months["n"] > 0)
    is_after = months["month"] >= month
    judged = sustained_change(
        share[~is_after].to_numpy(dtype=float), share[is_after].to_numpy(dtype=float),
        higher_is_wanted=measure.higher_is_wanted,
    )  # fmt: skip
    if not judged.valid:
        value = refused(
            judged.reason, method=judged.method, n_used=judged.n_before + judged.n_after
        )
    else:
        words = _VERDICTS[judged.verdict].format(
            run=judged.current_run, need=judged.run_needed, after=judged.n_after
        )
        value = Estimate(
            judged.current_run, NAN, float(judged.run_needed), found.change.level,
            judged.n_before + judged.n_after, 0, judged.method, True, words,
        )  # fmt: skip
    rows.add(
        topic, "sustained", measure.name, value, unit="count", reference=month,
        stratum=("action", number),
    )  # fmt: skip
