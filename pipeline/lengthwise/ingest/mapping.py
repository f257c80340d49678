"""Reads mapping.toml: how the practice's files are written, by default and file by file."""

import re
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from lengthwise.dictionary import EXPORTS, schema
from lengthwise.errors import SettingsError
from lengthwise.ingest.dialect import Dialect, dialect
from lengthwise.ingest.reshape_rules import (
    FILE_KEYS,
    TABLE_KEYS,
    Reshape,
    reshape_rule,
    texts,
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


def _unknown(raw: dict[str, Any], known: tuple[str, ...]) -> None:
    for name in raw:
        if name not in known:
            raise SettingsError(f"unknown entry {name}; known are {', '.join(known)}")


def _file_rule(raw: dict[str, Any], defaults: dict[str, str]) -> FileRule:
    _unknown(raw, ("name", "ignore", *FILE_KEYS, *TABLE_KEYS, *_DIALECT))
    reshape = reshape_rule(raw)
    name, export = raw.get("name"), raw.get("export")
    if not isinstance(name, str) or not name:
        raise SettingsError('name: expected the name of the file, as "teeth.csv"')
    if export not in EXPORTS and not (reshape and raw.get("table")):
        raise SettingsError(f"export: expected one of {', '.join(EXPORTS)}")
    columns = texts(raw.get("columns", {}), "columns")
    if reshape is None:
        _require_fields(str(export), columns)
    own = {key: raw[key] for key in _DIALECT if key in raw}
    reasons = _reasons(raw.get("ignore", ()))
    return FileRule(
        name,
        export or "",
        dialect(**{**defaults, **own}),
        columns,
        tuple(raw.get("ignore", ())),
        reasons,
        reshape,
    )


def _require_fields(export: str, columns: dict[str, str]) -> None:
    known = [item.name for item in schema(export).fields]
    unknown = sorted(set(columns.values()) - set(known))
    if unknown:
        raise SettingsError(
            f"columns: {', '.join(unknown)} is no field of {export}; expected one of "
            f"{', '.join(known)}"
        )


def _reasons(ignore: Any) -> dict[str, str]:
    """Return the headers that are left out with a reason; a list gives none."""
    if isinstance(ignore, list | tuple) and all(isinstance(item, str) for item in ignore):
        return {}
    if not isinstance(ignore, dict) or not all(
        isinstance(reason, str) and reason.strip() for reason in ignore.values()
    ):
        raise SettingsError(
            'ignore: expected a list of headers, or a table of "header" = "reason"'
        )
    return ignore


@contextmanager
def _placed(place: str) -> Iterator[None]:
    """Say where in mapping.toml an entry stands that cannot be followed."""
    try:
        yield
    except SettingsError as error:
        raise SettingsError(f"mapping.toml, {place}: {error}") from None


def _tables(raw: Any, name: str) -> list[dict[str, Any]]:
    if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
        raise SettingsError(f"mapping.toml: {name} is written as [[{name}]], once for each")
    return raw


def mapping_from(raw: dict[str, Any], overrides: dict[str, str] | None = None) -> Mapping:
    """Return the mapping that the entries of mapping.toml say; `overrides` win.

    Raises
    ------
    SettingsError
        An entry cannot be followed; the message says where, what was expected, what to do.
    """
    with _placed("top level"):
        _unknown(raw, ("defaults", "file", "random_numbers"))
        numbers = _random_numbers(raw.get("random_numbers", {}))
    with _placed("[defaults]"):
        defaults = texts(raw.get("defaults", {}), "defaults")
        _unknown(defaults, _DIALECT)
        defaults |= overrides or {}
        default = dialect(**defaults)
    rules: dict[str, FileRule] = {}
    for place, item in enumerate(_tables(raw.get("file", []), "file"), start=1):
        with _placed(f'[[file]] "{item.get("name", f"number {place}")}"'):
            rule = _file_rule({**item, **(overrides or {})}, defaults)
            if rule.name in rules:
                raise SettingsError("name: this file has two entries; put them together")
            rules[rule.name] = replace(rule, random_numbers=numbers)
    return Mapping(default, rules, numbers)


def load_mapping(path: Path, overrides: dict[str, str] | None = None) -> Mapping:
    """Return the mapping of a folder; `overrides` come from the command line and win."""
    raw: dict[str, Any] = {}
    if path.exists():
        try:
            raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))
        except tomllib.TOMLDecodeError as error:
            line = re.search(r"at line (\d+)", str(error))
            where = f"line {line[1]}" if line else "the last line"
            raise SettingsError(
                f"{path.name}: not valid TOML near {where}; texts stand in quotation marks, and "
                "a key stands once"
            ) from None
        except UnicodeDecodeError:
            raise SettingsError(f"{path.name}: not UTF-8; save it again as UTF-8") from None
    return mapping_from(raw, overrides)


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
