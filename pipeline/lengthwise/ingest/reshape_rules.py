"""What mapping.toml may say of a file that is not one export in its right shape."""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from lengthwise.dictionary import EXPORTS, schema
from lengthwise.errors import SettingsError

TOOTH_NOTATIONS = ("iso3950", "universal", "quadrant_position")
FILL_SIGNS = ("positive_beyond", "positive_short")
FILL_REFERENCES = ("radiographic_end", "confirmed_length")
UNITS = {"mm": Decimal(1), "cm": Decimal(10), "tenth_mm": Decimal("0.1")}
FILE_KEYS = (
    "skip_lines", "skip_where", "tooth_notation", "fill_sign", "fill_reference",
    "confirmed_length_ends_mm", "unit", "table",
)  # fmt: skip
TABLE_KEYS = ("export", "columns", "constants", "recode", "rows_from", "distinct")


@dataclass(frozen=True, slots=True)
class RowsFrom:
    """One row of a table for each row of the file, where one of these columns holds a value."""

    columns: dict[str, str]
    constants: dict[str, str]


@dataclass(frozen=True, slots=True)
class TableRule:
    """How one export is made from a file; `columns` maps header to field."""

    export: str
    columns: dict[str, str] = field(default_factory=dict)
    constants: dict[str, str] = field(default_factory=dict)
    recode: dict[str, dict[str, str]] = field(default_factory=dict)
    rows_from: tuple[RowsFrom, ...] = ()
    distinct: bool = False

    @property
    def fields(self) -> tuple[str, ...]:
        """Return the fields that the table has, in the dictionary's order."""
        own = {*self.columns.values(), *self.constants}
        for part in self.rows_from:
            own |= {*part.columns.values(), *part.constants}
        return tuple(item.name for item in schema(self.export).fields if item.name in own)

    @property
    def headers(self) -> set[str]:
        """Return the headers of the file that the table reads."""
        return set(self.columns).union(*(part.columns for part in self.rows_from))


@dataclass(frozen=True, slots=True)
class Reshape:
    """All that is said of one file beyond its dialect."""

    tables: tuple[TableRule, ...]
    skip_lines: int = 0
    skip_where: dict[str, tuple[str, ...]] = field(default_factory=dict)
    tooth_notation: str = ""
    fill_sign: str = "positive_beyond"
    fill_reference: str = "radiographic_end"
    confirmed_length_ends_mm: Decimal = Decimal(0)
    unit: str = "mm"


def _refuse(message: str) -> SettingsError:
    return SettingsError(f"mapping.toml [[file]]: {message}")


def _texts(raw: Any, what: str) -> dict[str, str]:
    if not isinstance(raw, dict) or any(
        isinstance(value, dict | list) for value in raw.values()
    ):
        raise _refuse(f'{what} is written as {{ "from" = "to" }}')
    return {str(key): str(value) for key, value in raw.items()}


def _known_fields(export: str, names: set[str], what: str) -> None:
    known = {item.name for item in schema(export).fields}
    unknown = sorted(names - known)
    if unknown:
        raise _refuse(
            f"{what} of {export} names {', '.join(unknown)}, which is no field of that export; "
            "see data-dictionary.md"
        )


def _rows_from(raw: Any, export: str) -> tuple[RowsFrom, ...]:
    if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
        raise _refuse("rows_from is a list of { columns = {...}, constants = {...} }")
    parts = []
    for item in raw:
        unknown = set(item) - {"columns", "constants"}
        if unknown or not item.get("columns"):
            raise _refuse("each entry of rows_from has columns, and may have constants")
        part = RowsFrom(
            _texts(item["columns"], "columns"), _texts(item.get("constants", {}), "constants")
        )
        _known_fields(export, {*part.columns.values(), *part.constants}, "rows_from")
        parts.append(part)
    return tuple(parts)


def table_rule(raw: dict[str, Any]) -> TableRule:
    """Return one [[file.table]] entry, checked against the dictionary."""
    for name in raw:
        if name not in TABLE_KEYS:
            raise _refuse(f"unknown entry {name} in a table; known are {', '.join(TABLE_KEYS)}")
    export = raw.get("export")
    if export not in EXPORTS:
        raise _refuse(f"export of a table must be one of {', '.join(EXPORTS)}")
    recode = raw.get("recode", {})
    if not isinstance(recode, dict):
        raise _refuse('recode is written as { field = { "from" = "to" } }')
    rule = TableRule(
        export,
        _texts(raw.get("columns", {}), "columns"),
        _texts(raw.get("constants", {}), "constants"),
        {name: _texts(values, f"recode of {name}") for name, values in recode.items()},
        _rows_from(raw.get("rows_from", []), export),
        bool(raw.get("distinct", False)),
    )
    _known_fields(export, {*rule.columns.values(), *rule.constants}, "columns or constants")
    _known_fields(export, set(rule.recode), "recode")
    if not rule.headers:
        raise _refuse(f"the table {export} reads no column; give columns or rows_from")
    return rule


def _one_of(raw: dict[str, Any], name: str, allowed: tuple[str, ...], default: str) -> str:
    value = raw.get(name, default)
    if value not in allowed and value != default:
        raise _refuse(f"{name} must be one of {', '.join(allowed)}")
    return str(value)


def _skip_where(raw: Any) -> dict[str, tuple[str, ...]]:
    if not isinstance(raw, dict) or not all(isinstance(value, list) for value in raw.values()):
        raise _refuse('skip_where is written as { "header" = ["value", ...] }')
    return {key: tuple(map(str, value)) for key, value in raw.items()}


def reshape_rule(raw: dict[str, Any]) -> Reshape | None:
    """Return what a [[file]] entry says beyond the dialect, or None when it says nothing.

    Raises
    ------
    SettingsError
        An entry is unknown or cannot be followed, or a tooth is read in no declared notation.
    """
    own = set(raw) & {*FILE_KEYS, "constants", "recode", "rows_from", "distinct"}
    if not own:
        return None
    tables = raw.get("table") or [{key: raw[key] for key in TABLE_KEYS if key in raw}]
    lines = raw.get("skip_lines", 0)
    if not isinstance(lines, int) or lines < 0:
        raise _refuse("skip_lines is the number of lines above the header, 0 or more")
    ends = raw.get("confirmed_length_ends_mm")
    reference = _one_of(raw, "fill_reference", FILL_REFERENCES, "radiographic_end")
    if reference == "confirmed_length" and not isinstance(ends, int | float):
        raise _refuse(
            "fill_reference confirmed_length needs confirmed_length_ends_mm, where the confirmed "
            "length ends against the radiographic end of the root (e.g. -0.5 for 0.5 mm short)"
        )
    rule = Reshape(
        tuple(map(table_rule, tables)),
        lines,
        _skip_where(raw.get("skip_where", {})),
        _one_of(raw, "tooth_notation", TOOTH_NOTATIONS, ""),
        _one_of(raw, "fill_sign", FILL_SIGNS, "positive_beyond"),
        reference,
        Decimal(str(ends or 0)),
        _one_of(raw, "unit", tuple(UNITS), "mm"),
    )
    if not rule.tooth_notation and any("tooth" in table.fields for table in rule.tables):
        raise _refuse(
            f"declare tooth_notation ({', '.join(TOOTH_NOTATIONS)}): the same number means "
            "different teeth in two notations, so it is never guessed"
        )
    return rule
