"""What mapping.toml may say of a file that is not one export in its right shape."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from lengthwise.dictionary import EXPORTS, schema
from lengthwise.errors import SettingsError

TOOTH_NOTATIONS = ("iso3950", "universal", "quadrant_position")
FILL_SIGNS = ("positive_beyond", "positive_short")
FILL_REFERENCES = ("radiographic_end", "confirmed_length")
ENDS_COLUMNS = ("confirmed", "radiographic")
UNITS = {"mm": Decimal(1), "cm": Decimal(10), "tenth_mm": Decimal("0.1")}
FILE_KEYS = (
    "skip_lines", "skip_where", "tooth_notation", "fill_sign", "fill_reference",
    "confirmed_length_ends_mm", "confirmed_length_ends", "unit", "table",
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
    confirmed_length_ends: dict[str, str] = field(default_factory=dict)
    unit: str = "mm"


def _refuse(message: str) -> SettingsError:
    return SettingsError(message)


def texts(raw: Any, what: str) -> dict[str, str]:
    """Return a table of texts; numbers and dates are taken as they are written."""
    if not isinstance(raw, dict) or any(
        isinstance(value, dict | list | bool) for value in raw.values()
    ):
        raise _refuse(f'{what}: expected a table of texts, {{ "from" = "to" }}')
    return {str(key): str(value) for key, value in raw.items()}


def _require_allowed(export: str, name: str, values: Iterable[str], what: str) -> None:
    """Raise where a value that the mapping itself gives could never be accepted."""
    item = next(found for found in schema(export).fields if found.name == name)
    allowed = ("yes", "no") if item.type == "boolean" else item.enum
    if not allowed or item.extensible or name == "tooth":
        return  # a practice may have values of its own; teeth are turned afterwards
    wrong = sorted(set(values) - {*allowed, *schema(export).missing})
    if wrong:
        raise _refuse(
            f"{what}: {', '.join(wrong)} is no value of {name}; allowed are {', '.join(allowed)}, "
            "or not_recorded, not_applicable, unreadable"
        )


def _known_fields(export: str, names: set[str], what: str) -> None:
    known = {item.name for item in schema(export).fields}
    unknown = sorted(names - known)
    if unknown:
        raise _refuse(
            f"{what} of {export}: {', '.join(unknown)} is no field of that export; expected "
            f"one of {', '.join(sorted(known))}"
        )


def _rows_from(raw: Any, export: str) -> tuple[RowsFrom, ...]:
    if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
        raise _refuse("rows_from: expected a list of { columns = {...}, constants = {...} }")
    parts = []
    for item in raw:
        unknown = set(item) - {"columns", "constants"}
        if unknown or not item.get("columns"):
            raise _refuse(
                "rows_from: each entry has columns and may have constants, and nothing else"
            )
        part = RowsFrom(
            texts(item["columns"], "columns"), texts(item.get("constants", {}), "constants")
        )
        _known_fields(export, {*part.columns.values(), *part.constants}, "rows_from")
        parts.append(part)
    return tuple(parts)


def table_rule(raw: dict[str, Any]) -> TableRule:
    """Return one [[file.table]] entry, checked against the dictionary."""
    if not isinstance(raw, dict):
        raise _refuse("table: expected [[file.table]] entries, one for each export")
    for name in raw:
        if name not in TABLE_KEYS:
            raise _refuse(f"table: unknown entry {name}; known are {', '.join(TABLE_KEYS)}")
    export = raw.get("export")
    if export not in EXPORTS:
        raise _refuse(f"table: export must be one of {', '.join(EXPORTS)}")
    recode = raw.get("recode", {})
    if not isinstance(recode, dict):
        raise _refuse('recode: expected { field = { "from" = "to" } }')
    distinct = raw.get("distinct", False)
    if not isinstance(distinct, bool):
        raise _refuse("distinct: expected true or false")
    rule = TableRule(
        export,
        texts(raw.get("columns", {}), "columns"),
        texts(raw.get("constants", {}), "constants"),
        {name: texts(values, f"recode of {name}") for name, values in recode.items()},
        _rows_from(raw.get("rows_from", []), export),
        distinct,
    )
    _known_fields(export, {*rule.columns.values(), *rule.constants}, "columns or constants")
    _known_fields(export, set(rule.recode), "recode")
    if not rule.headers:
        raise _refuse(f"table {export}: it reads no column; give columns or rows_from")
    for name, words in rule.recode.items():
        _require_allowed(export, name, words.values(), f"recode of {export}")
    for constants in (rule.constants, *(part.constants for part in rule.rows_from)):
        for name, value in constants.items():
            _require_allowed(export, name, [value], f"constants of {export}")
    return rule


def _confirmed_ends(raw: dict[str, Any], reference: str) -> tuple[Decimal, dict[str, str]]:
    """Return where the confirmed length ends against the radiographic end: in mm, or by columns."""
    number, columns = raw.get("confirmed_length_ends_mm"), raw.get("confirmed_length_ends")
    if reference != "confirmed_length":
        if number is not None or columns is not None:
            raise _refuse(
                'confirmed_length_ends: of use only with fill_reference = "confirmed_length"; add '
                "that, or take it away"
            )
        return Decimal(0), {}
    if columns is not None and number is None:
        columns = texts(columns, "confirmed_length_ends")
        if set(columns) != set(ENDS_COLUMNS):
            raise _refuse(
                'confirmed_length_ends: expected { confirmed = "header", radiographic = "header" }, '
                "two lengths from the same reference point"
            )
        return Decimal(0), columns
    if columns is not None or isinstance(number, bool) or not isinstance(number, int | float):
        raise _refuse(
            "fill_reference confirmed_length needs confirmed_length_ends_mm, where the confirmed "
            "length ends against the radiographic end of the root (e.g. -0.5 for 0.5 mm short), or "
            "confirmed_length_ends with two columns; not both"
        )
    return Decimal(str(number)), {}


def _one_of(raw: dict[str, Any], name: str, allowed: tuple[str, ...], default: str) -> str:
    value = raw.get(name, default)
    if value != default and (not isinstance(value, str) or value not in allowed):
        raise _refuse(f"{name}: expected one of {', '.join(allowed)}")
    return str(value)


def _skip_where(raw: Any) -> dict[str, tuple[str, ...]]:
    if not isinstance(raw, dict) or not all(isinstance(value, list) for value in raw.values()):
        raise _refuse('skip_where: expected { "header" = ["value", ...] }')
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
    if not isinstance(raw.get("table", []), list):
        raise _refuse("table: expected [[file.table]] entries, one for each export")
    tables = raw.get("table") or [{key: raw[key] for key in TABLE_KEYS if key in raw}]
    lines = raw.get("skip_lines", 0)
    if isinstance(lines, bool) or not isinstance(lines, int) or lines < 0:
        raise _refuse("skip_lines: expected the number of lines above the header, 0 or more")
    reference = _one_of(raw, "fill_reference", FILL_REFERENCES, "radiographic_end")
    ends, ends_of = _confirmed_ends(raw, reference)
    rule = Reshape(
        tuple(map(table_rule, tables)),
        lines,
        _skip_where(raw.get("skip_where", {})),
        _one_of(raw, "tooth_notation", TOOTH_NOTATIONS, ""),
        _one_of(raw, "fill_sign", FILL_SIGNS, "positive_beyond"),
        reference,
        ends,
        ends_of,
        _one_of(raw, "unit", tuple(UNITS), "mm"),
    )
    if not rule.tooth_notation and any("tooth" in table.fields for table in rule.tables):
        raise _refuse(
            f"tooth_notation: declare tooth_notation ({', '.join(TOOTH_NOTATIONS)}): the same number means "
            "different teeth in two notations, so it is never guessed"
        )
    return rule
