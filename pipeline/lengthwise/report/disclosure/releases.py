"""What was shared before, and what this release would give away beside it (pure)."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from lengthwise.report.disclosure.periods import APART, LONGER, SAME, length, relation
from lengthwise.report.disclosure.profiles import Profile
from lengthwise.report.run_data import Row, RunData

FORMAT = "lengthwise release 1"
KEY = ("section", "analysis", "measure", "subject", "reference", "stratum_kind", "stratum")
SHOWN = ("numerator", "denominator", "n_used", "estimate", "lower", "upper")
Key = tuple[str, ...]
Published = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Earlier:
    """One result as it was shared before: its period, and its numbers where it was shown."""

    period: str
    is_shown: bool
    numbers: Mapping[str, float | None]


def release_record(view: RunData) -> dict[str, Any]:
    """Return what a shared view publishes: nothing that is not in the view itself."""
    told = view.setting("disclosure", default={})
    return {
        "format": FORMAT,
        "period": view.run["period"],
        "data_as_of": view.run["created_at"],
        "minimum_count": told.get("minimum_count"),
        "rounded_to": told.get("rounded_to"),
        "results": [_entry(row) for _, row in view.estimates.iterrows()],
    }


def _entry(row: Row) -> Published:
    numbers = {name: None if pd.isna(row[name]) else float(row[name]) for name in SHOWN}
    is_shown = any(value is not None for value in numbers.values())
    return {
        **{name: row[name] for name in KEY}, "period": row["period"],
        "shown": is_shown, **(numbers if is_shown else {}),
    }  # fmt: skip


def key_of(entry: Any) -> Key:
    return tuple(str(entry[name]) for name in KEY)


def earlier_results(releases: Sequence[Mapping[str, Any]]) -> dict[Key, list[Earlier]]:
    """Return every result that was shared before, oldest release first."""
    found: dict[Key, list[Earlier]] = {}
    for release in releases:
        for entry in release["results"]:
            numbers = {name: entry.get(name) for name in SHOWN}
            earlier = Earlier(entry["period"], bool(entry["shown"]), numbers)
            found.setdefault(key_of(entry), []).append(earlier)
    return found


def reference_result(row: Row, history: Sequence[Earlier]) -> Earlier | None:
    """Return the earlier result that this one has to be held against.

    One of the same period comes first, and there the oldest that was shown: what was once
    published stays published. Else it is the longest whose period overlaps, a shown one first.
    """
    same = [item for item in history if item.period == row["period"]]
    if same:
        return next((item for item in same if item.is_shown), same[0])
    others = [item for item in history if relation(item.period, row["period"]) != APART]
    # The longest one leaves the shortest time between.
    return max(others, key=lambda item: (item.is_shown, length(item.period)), default=None)


def gives_away(row: Row, earlier: Earlier, shown: Published, profile: Profile) -> bool:
    """Return whether showing the row beside the earlier one tells of too few cases.

    Parameters
    ----------
    row : Row
        The result as it is in the run.
    shown : dict
        The same result as it would be published.
    """
    kind = relation(earlier.period, row["period"])
    if kind == SAME:
        # Masked once, masked for good: another pattern of masks would undo the first.
        return not earlier.is_shown or _has_changed(earlier, shown, profile)
    if kind == LONGER:
        return any(
            step < least_step(profile) for step in steps(earlier, shown) if step is not None
        )
    return kind != APART


def least_step(profile: Profile) -> int:
    """Return the smallest difference of two rounded counts that stands for enough cases."""
    return profile.minimum_count + 2 * profile.half_base


def steps(earlier: Earlier, shown: Published) -> list[float | None]:
    """Return by how much the counts, the rest, and the group have grown; None where unknown."""
    old, new = earlier.numbers, shown
    pairs = [(_count(old, name), _count(new, name)) for name in ("numerator", "denominator")]
    rests = tuple(
        d - n if n is not None and d is not None else None for n, d in zip(*pairs, strict=True)
    )
    group = (_count(old, "n_used"), _count(new, "n_used"))
    return [
        b - a if a is not None and b is not None else None for a, b in (*pairs, rests, group)
    ]


def _count(numbers: Mapping[str, Any], name: str) -> float | None:
    value = numbers.get(name)
    return None if value is None or pd.isna(value) else float(value)


def _has_changed(earlier: Earlier, shown: Published, profile: Profile) -> bool:
    """Return whether the numbers moved, yet by fewer cases than may be told apart."""
    same = all(_count(earlier.numbers, name) == _count(shown, name) for name in SHOWN)
    if same:
        return False
    moved = [abs(step) for step in steps(earlier, shown) if step]
    return not moved or min(moved) < least_step(profile)
