"""The practice's criteria, each a rule in data: numerator, denominator, exceptions, target."""

from typing import Any

import pandas as pd

from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.errors import SettingsError
from lengthwise.settings import Settings
from lengthwise.statistics.process.criteria import CriterionResult, criterion_result
from lengthwise.statistics.results import Estimate
from lengthwise.store.criteria import criterion_cases

REQUIRED = (
    "id", "statement", "rationale", "source", "table", "denominator", "numerator", "target",
    "direction", "owner", "version", "valid_from",
)  # fmt: skip
DIRECTIONS = ("at_least", "at_most")


def checked_criteria(settings: Settings) -> tuple[dict[str, Any], ...]:
    """Return the criteria; raise SettingsError with the id of one that cannot be followed."""
    seen: set[str] = set()
    for place, item in enumerate(settings.criteria, start=1):
        name = str(item.get("id") or f"number {place}")
        lacking = [key for key in REQUIRED if key not in item]
        if lacking:
            raise SettingsError(f"criteria.toml, {name}: {', '.join(lacking)} is missing")
        if item["direction"] not in DIRECTIONS:
            raise SettingsError(f"criteria.toml, {name}: direction must be at_least or at_most")
        if not isinstance(item["target"], (int, float)) or not 0 <= item["target"] <= 1:
            raise SettingsError(f"criteria.toml, {name}: target must lie between 0 and 1")
        if name in seen:
            raise SettingsError(
                f"criteria.toml, {name}: the id stands twice; give each its own"
            )
        seen.add(name)
    return settings.criteria


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
    rows: ResultRows, connection: Any, quarter: str, quarters: list[str], settings: Settings
) -> None:
    """Write every criterion for the quarter, and its share in each quarter before."""
    for item in checked_criteria(settings):
        cases = criterion_cases(connection, item)
        is_windowed = item.get("window", "quarter") == "quarter"
        now = cases[cases["quarter"] == quarter] if is_windowed else cases
        _add(rows, Topic("criteria", "B1", quarter), item, _result(now, item, settings))
        for earlier in quarters:
            part = cases[cases["quarter"] == earlier]
            _add(
                rows, Topic("criteria", "B1", earlier), item, _result(part, item, settings),
                ("quarter", earlier),
            )  # fmt: skip
