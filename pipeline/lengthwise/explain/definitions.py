"""The plain words for what is stored: read from definitions.toml."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any


@dataclass(frozen=True, slots=True)
class Definition:
    """What a number means, and the settings that it follows, as paths with dots."""

    title: str
    text: str
    settings: tuple[str, ...]


@cache
def _all() -> dict[str, Any]:
    text = resources.files(__package__).joinpath("definitions.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def definition_of(analysis: str, measure: str) -> Definition:
    """Return the definition of a measure of an analysis.

    A run of a version that knew more still gets an answer: the name in words.
    """
    found = _all().get(analysis, {})
    text = _measure(found.get("measures", {}), measure)
    return Definition(
        found.get("title", f"Analysis {analysis}"),
        text or f"{measure.replace('_', ' ').capitalize()}, by the method named below.",
        tuple(found.get("settings", ())),
    )


def is_defined(analysis: str, measure: str) -> bool:
    """Return whether this version has words for the measure."""
    return bool(_measure(_all().get(analysis, {}).get("measures", {}), measure))


def _measure(measures: dict[str, str], name: str) -> str:
    if name in measures:
        return measures[name]
    starts = [key for key in measures if key.endswith("*") and name.startswith(key[:-1])]
    return measures[starts[0]] if starts else ""
