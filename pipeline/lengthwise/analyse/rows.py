"""Turns the result of a statistic into a row of the result tables."""

import math
from dataclasses import dataclass, field, replace
from typing import Any

from lengthwise.statistics.results import Estimate


@dataclass(frozen=True, slots=True)
class Topic:
    """What a group of numbers is about; the same for every row of an analysis."""

    section: str
    analysis: str
    period: str
    scope: str = "practice"


def _finite(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def _slug(*parts: str) -> str:
    kept = "".join
    clean = [
        kept(letter if letter.isalnum() or letter in "_-" else "-" for letter in part)
        for part in parts
        if part
    ]
    return ".".join(clean)


@dataclass(slots=True)
class ResultRows:
    """Collects the rows of one run: estimates, plotted points and lists."""

    estimates: list[dict[str, Any]] = field(default_factory=list)
    points: list[dict[str, Any]] = field(default_factory=list)
    lists: list[dict[str, Any]] = field(default_factory=list)

    def add(
        self, topic: Topic, measure: str, subject: str, value: Estimate, *, unit: str,
        reference: str = "", stratum: tuple[str, str] = ("", ""), numerator: int | None = None,
        denominator: int | None = None, n_clusters: int | None = None,
        target: float | None = None, period: str = "",
    ) -> None:  # fmt: skip
        """Add one number with its uncertainty; a refused one keeps its reason, not its value."""
        if value.valid and not math.isfinite(value.estimate):
            reason = value.reason or "the data give no finite number"
            value = replace(value, valid=False, reason=reason)
        covered = period or topic.period
        labelled = "-".join(stratum) if stratum[0] else ""
        shown = value.valid
        self.estimates.append(
            {
                "result_id": _slug(
                    topic.analysis, subject, reference, labelled, covered, measure,
                    "" if topic.scope == "practice" else topic.scope,
                ),
                "section": topic.section,
                "analysis": topic.analysis,
                "measure": measure,
                "subject": subject,
                "reference": reference,
                "stratum_kind": stratum[0],
                "stratum": stratum[1],
                "period": covered,
                "scope": topic.scope,
                "unit": unit,
                "estimate": _finite(value.estimate) if shown else None,
                "lower": _finite(value.lower) if shown else None,
                "upper": _finite(value.upper) if shown else None,
                "level": value.level,
                "numerator": numerator,
                "denominator": denominator,
                "n_used": value.n_used,
                "n_missing": value.n_missing,
                "n_clusters": n_clusters,
                "target": target,
                "method": value.method,
                "valid": value.valid,
                "reason": value.reason,
                "position": len(self.estimates),
            }
        )  # fmt: skip

    def add_count(
        self, topic: Topic, subject: str, count: int, *, denominator: int | None = None,
        stratum: tuple[str, str] = ("", ""), measure: str = "count",
    ) -> None:  # fmt: skip
        """Add a plain count."""
        value = Estimate(count, math.nan, math.nan, 0.95, int(denominator or count), 0, "count")
        self.add(
            topic, measure, subject, value, unit="count", numerator=int(count),
            denominator=denominator, stratum=stratum,
        )  # fmt: skip

    def point(
        self, figure: str, panel: str, series: str, x: float, y: float, *, label: str = "",
        lower: float | None = None, upper: float | None = None, n: int | None = None,
    ) -> None:  # fmt: skip
        """Add one plotted point."""
        self.points.append(
            {
                "figure": figure, "panel": panel, "series": series,
                "position": len(self.points), "label": label, "x": _finite(x), "y": _finite(y),
                "lower": _finite(lower), "upper": _finite(upper), "n": n,
            }
        )  # fmt: skip

    def extend(self, other: "ResultRows") -> None:
        """Take the rows of another part of the run, after these."""
        for own, added in (
            (self.estimates, other.estimates), (self.points, other.points),
            (self.lists, other.lists),
        ):  # fmt: skip
            own.extend(row | {"position": place} for place, row in enumerate(added, len(own)))
