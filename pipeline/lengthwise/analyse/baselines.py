"""New baselines of the charts: set only with a date and a written reason of the practice."""

import re
from dataclasses import dataclass
from datetime import date
from typing import Any

from lengthwise.analyse.measures import FILL_LEVELS
from lengthwise.errors import SettingsError
from lengthwise.settings import Settings
from lengthwise.statistics.process.run_chart import NewBaseline

ENTRIES = ("chart", "from_month", "decided_on", "reason")
_MONTH = re.compile(r"^\d{4}-(0[1-9]|1[0-2])$")


@dataclass(frozen=True, slots=True)
class Segment:
    """The months of one baseline; positions count from 0, `stop` is excluded.

    Attributes
    ----------
    first : str
        Its first month.
    stratum : tuple of str
        Empty for the latest, whose numbers stand for the measure.
    """

    start: int
    stop: int
    first: str
    stratum: tuple[str, str]


def checked_baselines(settings: Settings) -> tuple[dict[str, Any], ...]:
    """Return the new baselines; raise SettingsError with the number of one that is not whole."""
    charts = {str(item["id"]) for item in settings.criteria}
    charts |= {f"fill_{level}" for level in FILL_LEVELS}
    seen: set[tuple[str, str]] = set()
    for number, item in enumerate(settings.new_baselines, start=1):
        problem = _problem(item, charts)
        key = (str(item.get("chart")), str(item.get("from_month")))
        if not problem and key in seen:
            problem = "this chart has a new baseline from this month already"
        if problem:
            raise SettingsError(f"actions.toml, new_baseline {number}: {problem}")
        seen.add(key)
    return settings.new_baselines


def _problem(item: dict[str, Any], charts: set[str]) -> str:
    lacking = [name for name in ENTRIES if not str(item.get(name, "")).strip()]
    if lacking:
        return (
            f"{', '.join(lacking)} is missing; a chart gets a new baseline only with the date "
            "of the decision and a written reason"
        )
    unknown = sorted(set(item) - set(ENTRIES))
    if unknown:
        return f"unknown entry {unknown[0]}; known are {', '.join(ENTRIES)}"
    if item["chart"] not in charts:
        return f"chart must be one of {', '.join(sorted(charts))}"
    if not _MONTH.match(str(item["from_month"])):
        return "from_month is written like 2026-05"
    try:
        date.fromisoformat(str(item["decided_on"]))
    except ValueError:
        return "decided_on is a date written like 2026-05-31"
    return ""


def baselines_of(settings: Settings, chart: str, months: list[str]) -> list[NewBaseline]:
    """Return the new baselines of one chart that start inside its months, in order of time."""
    wanted = sorted(
        (item for item in settings.new_baselines if item["chart"] == chart),
        key=lambda item: str(item["from_month"]),
    )
    return [
        NewBaseline(
            months.index(str(item["from_month"])),
            date.fromisoformat(str(item["decided_on"])),
            str(item["reason"]).strip(),
        )
        for item in wanted
        if str(item["from_month"]) in months[1:]
    ]


def segments(changes: list[NewBaseline], months: list[str]) -> list[Segment]:
    """Return the baselines that the changes leave, the latest without a stratum."""
    starts = [0, *(change.position for change in changes)]
    stops = [*starts[1:], len(months)]
    return [
        Segment(
            start, stop, months[start] if months else "",
            ("", "") if stop == len(months) else ("baseline", months[start]),
        )
        for start, stop in zip(starts, stops, strict=True)
    ]  # fmt: skip
