"""The practice's criteria, each a rule in data: numerator, denominator, exceptions, target."""

import re
from typing import Any

import pandas as pd

from lengthwise.analyse.measures import CasesOf
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.errors import SettingsError
from lengthwise.settings import Settings
from lengthwise.statistics.process.criteria import CriterionResult, criterion_result
from lengthwise.statistics.results import Estimate, refused

REQUIRED = (
    "id", "statement", "rationale", "source", "table", "denominator", "numerator", "target",
    "direction", "owner", "version", "valid_from",
)  # fmt: skip
OPTIONAL = (
    "denominator_words", "numerator_words", "exception", "exceptions", "window", "funnel",
    "suggestion", "control",
)  # fmt: skip
DIRECTIONS = ("at_least", "at_most")
WINDOWS = ("quarter", "all")
_QUARTER = re.compile(r"^\d{4}-Q[1-4]$")


def checked_criteria(settings: Settings) -> tuple[dict[str, Any], ...]:
    """Return the criteria; raise SettingsError with the id of one that cannot be followed.

    One id may stand several times: as versions, each with its own `valid_from`.
    """
    seen: set[tuple[str, str]] = set()
    for place, item in enumerate(settings.criteria, start=1):
        name = str(item.get("id") or f"number {place}")
        problem = _problem(item)
        if not problem and (name, item["valid_from"]) in seen:
            problem = (
                "the id stands twice; give each its own, or each version its own valid_from"
            )
        if problem:
            raise SettingsError(f"criteria.toml, {name}: {problem}")
        seen.add((name, item["valid_from"]))
    return settings.criteria


def _problem(item: dict[str, Any]) -> str:
    lacking = [key for key in REQUIRED if key not in item]
    if lacking:
        return f"{', '.join(lacking)} is missing"
    unknown = sorted(set(item) - {*REQUIRED, *OPTIONAL})
    if unknown:
        return f"unknown entry {unknown[0]}; known are {', '.join((*REQUIRED, *OPTIONAL))}"
    if item["direction"] not in DIRECTIONS:
        return "direction must be at_least or at_most"
    target = item["target"]
    if isinstance(target, bool) or not isinstance(target, (int, float)) or not 0 <= target <= 1:
        return "target must lie between 0 and 1"
    if item.get("window", "quarter") not in WINDOWS:
        return f"window must be one of {', '.join(WINDOWS)}"
    if not _QUARTER.match(str(item["valid_from"])):
        return "valid_from is a quarter written like 2026-Q3"
    return ""


def in_force(criteria: tuple[dict[str, Any], ...], quarter: str) -> tuple[dict[str, Any], ...]:
    """Return, of each id, the version that holds in a quarter; none where none does yet."""
    held: dict[str, dict[str, Any]] = {}
    for item in criteria:
        name, since = str(item["id"]), str(item["valid_from"])
        if since > quarter:
            continue
        if name not in held or since > str(held[name]["valid_from"]):
            held[name] = item
    return tuple(held.values())


def _result(cases: pd.DataFrame, item: dict[str, Any], settings: Settings) -> CriterionResult:
    return criterion_result(
        cases["is_met"].to_numpy(dtype=float),
        is_exception=cases["is_exception"].to_numpy(dtype=bool),
        cluster=cases["patient_id"].to_numpy(),
        target=float(item["target"]),
        higher_is_wanted=item["direction"] == "at_least",
        minimum_denominator=settings.small_numbers.minimum_denominator,
    )


def _add(
    rows: ResultRows, topic: Topic, item: dict[str, Any], found: CriterionResult,
    stratum: tuple[str, str] = ("", ""),
) -> None:  # fmt: skip
    name = str(item["id"])
    rows.add(
        topic, "share", name, found.share, unit="proportion", stratum=stratum,
        numerator=found.numerator, denominator=found.denominator,
        n_clusters=found.n_clusters, target=found.target,
    )  # fmt: skip
    if stratum[0]:
        return
    rows.add_count(topic, name, found.exceptions, measure="exceptions")
    if found.gap_cases is not None:
        rows.add_count(topic, name, found.gap_cases, measure="gap_cases")
    points = Estimate(
        found.gap_points / 100, float("nan"), float("nan"), found.share.level, found.denominator,
        found.share.n_missing, "share minus target", found.share.valid,
        found.share.reason,
    )  # fmt: skip
    rows.add(topic, "gap_points", name, points, unit="proportion", target=found.target)


def analyse_criteria(
    rows: ResultRows, cases_of: CasesOf, quarter: str, quarters: list[str], settings: Settings
) -> None:
    """Write every criterion for the quarter, and its share in each quarter before.

    Each quarter is judged by the version that was in force then; none is judged by a rule
    that came later. `settings` holds every version.
    """
    now = in_force(settings.criteria, quarter)
    for item in now:
        cases = cases_of(item)
        is_windowed = item.get("window", "quarter") == "quarter"
        own = cases[cases["quarter"] == quarter] if is_windowed else cases
        _add(rows, Topic("criteria", "B1", quarter), item, _result(own, item, settings))
    for earlier in quarters:
        for item in in_force(settings.criteria, earlier):
            cases = cases_of(item)
            part = cases[cases["quarter"] == earlier]
            _add(
                rows, Topic("criteria", "B1", earlier), item, _result(part, item, settings),
                ("quarter", earlier),
            )  # fmt: skip
    _add_coming(rows, Topic("criteria", "B1", quarter), now, settings)


def _add_coming(
    rows: ResultRows, topic: Topic, now: tuple[dict[str, Any], ...], settings: Settings
) -> None:
    """Say of a criterion without a version in force from when it holds."""
    held = {str(item["id"]) for item in now}
    coming = [item for item in settings.criteria if str(item["id"]) not in held]
    first = {str(item["id"]): item for item in sorted(coming, key=_start, reverse=True)}
    for name, item in first.items():
        none = refused(f"valid from {item['valid_from']}, not before", method="criterion")
        rows.add(topic, "share", name, none, unit="proportion", target=float(item["target"]))


def _start(item: dict[str, Any]) -> str:
    return str(item["valid_from"])
