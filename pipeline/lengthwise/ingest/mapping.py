"""Reads mapping.toml: how the practice's files are written, by default and file by file."""

import tomllib
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from lengthwise.dictionary import EXPORTS
from lengthwise.errors import SettingsError
from lengthwise.ingest.dialect import Dialect, dialect
from lengthwise.ingest.reshape_rules import (
    FILE_KEYS,
    TABLE_KEYS,
    Reshape,
    reshape_rule,
)

_DIALECT = ("separator", "decimal", "encoding", "date_order")


@dataclass(frozen=True, slots=True)
class FileRule:
    """What mapping.toml says of one file."""

    name: str
    export: str
    dialect: Dialect
    columns: dict[str, str] = field(default_factory=dict)
    ignore: tuple[str, ...] = ()
    reasons: dict[str, str] = field(default_factory=dict)
    reshape: Reshape | None = None
    random_numbers: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Mapping:
    """The default dialect and the rules by file name."""

    default: Dialect = field(default_factory=Dialect)
    files: dict[str, FileRule] = field(default_factory=dict)
    random_numbers: frozenset[str] = frozenset()


def _unknown(where: str, raw: dict[str, Any], known: tuple[str, ...]) -> None:
    for name in raw:
        if name not in known:
            raise SettingsError(
                f"mapping.toml {where}: unknown entry {name}; known are {known}"
            )


def _file_rule(raw: dict[str, Any], defaults: dict[str, str]) -> FileRule:
    where = "[[file]]"
    _unknown(where, raw, ("name", "ignore", *FILE_KEYS, *TABLE_KEYS, *_DIALECT))
    reshape = reshape_rule(raw)
    name, export = raw.get("name"), raw.get("export")
    if not isinstance(name, str):
        raise SettingsError("mapping.toml [[file]]: name must say which file the entry is for")
    if export not in EXPORTS and not (reshape and raw.get("table")):
        raise SettingsError(
            f"mapping.toml [[file]]: export must be one of {', '.join(EXPORTS)}"
        )
    own = {key: raw[key] for key in _DIALECT if key in raw}
    return FileRule(
        name,
        export or "",
        dialect(**{**defaults, **own}),
        dict(raw.get("columns", {})),
        tuple(raw.get("ignore", ())),
        _reasons(raw.get("ignore", ())),
        reshape,
    )


def _reasons(ignore: Any) -> dict[str, str]:
    """Return the headers that are left out with a reason; a list gives none."""
    if isinstance(ignore, list | tuple):
        return {}
    if not isinstance(ignore, dict) or not all(
        isinstance(reason, str) and reason.strip() for reason in ignore.values()
    ):
        raise SettingsError(
            "mapping.toml [[file]]: ignore is a list of headers, or a table of header = reason"
        )
    return ignore


def load_mapping(path: Path, overrides: dict[str, str] | None = None) -> Mapping:
    """Return the mapping of a folder; `overrides` come from the command line and win."""
    raw: dict[str, Any] = {}
    if path.exists():
        try:
            raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError):
            raise SettingsError(f"{path.name}: not valid TOML; mend it or remove it") from None
    _unknown("top level", raw, ("defaults", "file", "random_numbers"))
    numbers = _random_numbers(raw.get("random_numbers", {}))
    defaults = dict(raw.get("defaults", {}))
    _unknown("[defaults]", defaults, _DIALECT)
    defaults |= overrides or {}
    rules = [
        replace(_file_rule({**item, **(overrides or {})}, defaults), random_numbers=numbers)
        for item in raw.get("file", [])
    ]
    return Mapping(dialect(**defaults), {rule.name: rule for rule in rules}, numbers)


def _random_numbers(raw: Any) -> frozenset[str]:
    """Return the fields whose bare numbers are declared to be no record numbers."""
    if not isinstance(raw, dict) or not all(
        name == "patient_id" and isinstance(reason, str) and reason.strip()
        for name, reason in raw.items()
    ):
        raise SettingsError(
            'mapping.toml random_numbers: expected { patient_id = "where the numbers come from" }'
        )
    return frozenset(raw)
