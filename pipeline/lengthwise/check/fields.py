"""Turns the data dictionary into the SQL expressions that type and judge one file's columns.

The expressions are built from the dictionary alone; nothing of a file enters them but the
declared decimal mark and date order.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from lengthwise.check.codes import field_code
from lengthwise.dictionary import Field, Schema
from lengthwise.ingest.dialect import DATE_ORDERS, Dialect

_TYPES = {"number": "double", "integer": "integer", "boolean": "boolean", "date": "date"}


@dataclass(frozen=True, slots=True)
class FieldPlan:
    """The stored value of one column, and the conditions under which it is at fault."""

    item: Field
    stored: str
    faults: tuple[tuple[str, str], ...]


def quoted(text: str) -> str:
    """Return a text of the dictionary as an SQL literal."""
    return "'" + text.replace("'", "''") + "'"


def sql_type(item: Field) -> str:
    """Return the DuckDB type of a field; where few values are allowed, one that takes a byte."""
    if item.enum:
        return f"enum({', '.join(map(quoted, dict.fromkeys(item.enum)))})"
    limits = (item.minimum, item.maximum)
    if item.type == "integer" and all(one is not None and 0 <= one <= 255 for one in limits):
        return "utinyint"
    return _TYPES.get(item.type, "varchar")


def number_of(text: str, dialect: Dialect) -> str:
    """Return the expression of a text as a number, null where it is none."""
    if dialect.decimal == ",":
        text = f"if(contains({text}, '.'), null, replace({text}, ',', '.'))"
    return f"try_cast({text} as double)"


def date_of(text: str, dialect: Dialect) -> str:
    """Return the expression of a text as a day, null where it is none."""
    forms = ", ".join(map(quoted, DATE_ORDERS[dialect.date_order]))
    return f"cast(try_strptime({text}, [{forms}]) as date)"


def clean_text(name: str, export: Schema) -> str:
    """Return the expression of a cell without blanks, null where a missing code stands."""
    return f"if(trim({name}) in ({missing_codes(export)}), null, trim({name}))"


def missing_codes(export: Schema) -> str:
    """Return the words that stand for an empty cell as a list of SQL literals."""
    return ", ".join(map(quoted, export.missing))


def parsed(item: Field, dialect: Dialect, text: str) -> str:
    """Return the expression of a clean text as a value of the field's kind."""
    if item.type in ("number", "integer"):
        number = number_of(text, dialect)
        return f"if(isfinite({number}), {number}, null)"
    if item.type == "boolean":
        return f"case lower({text}) when 'yes' then true when 'no' then false end"
    if item.type == "date":
        return date_of(text, dialect)
    return text


def _conditions(
    item: Field, present: bool, text: str, value: str, waived_by: str
) -> list[tuple[str, str]]:
    found = []
    if item.required:
        found.append(
            ("missing", f"{text} is null" + (f" and {waived_by} is null" if waived_by else ""))
        )
    if not present:
        return found
    if item.type == "number":
        found.append(("not_a_number", f"{text} is not null and {value} is null"))
    if item.type == "integer":
        whole = f"{value} is null or {value} <> trunc({value})"
        found.append(("not_an_integer", f"{text} is not null and ({whole})"))
    if item.type == "date":
        found.append(("not_a_date", f"{text} is not null and {value} is null"))
    if item.type == "boolean":
        found.append(("not_yes_or_no", f"{text} is not null and {value} is null"))
    if item.enum:
        allowed = ", ".join(quoted(value) for value in item.enum)
        found.append(("not_allowed", f"{text} not in ({allowed})"))
    if item.pattern:
        found.append(("malformed", f"not regexp_full_match({text}, {quoted(item.pattern)})"))
    outside = [
        f"{value} {sign} {limit}"
        for sign, limit in (("<", item.minimum), (">", item.maximum))
        if limit is not None
    ]
    if outside:
        found.append(("out_of_range", " or ".join(outside)))
    return found


def stored_value(item: Field, values: Mapping[str, str]) -> str:
    """Return the expression of a field's stored value from those of parsed values, by name."""
    value = values[item.name]
    if item.type == "integer":
        value = f"if({value} = trunc({value}), {value}, null)"
    if item.name == "period":
        value = f"coalesce({value}, strftime({values['treatment_date']}, '%Y-%m'))"
    return f"try_cast({value} as {sql_type(item)})"


def plan_fields(
    export: Schema, columns: tuple[str, ...], texts: Mapping[str, str],
    values: Mapping[str, str],
) -> list[FieldPlan]:  # fmt: skip
    """Return the plan of every field of an export for a file with these columns.

    `texts` and `values` hold, by field name, the SQL of the clean text and of its parsed value.
    """
    return [
        FieldPlan(
            item,
            stored_value(item, values),
            tuple(
                (field_code(export.entity, item, fault), condition)
                for fault, condition in _conditions(
                    item, item.name in columns, texts[item.name], values[item.name],
                    texts.get(waiving(item, columns), ""),
                )
            ),
        )
        for item in export.fields
    ]  # fmt: skip


def waiving(item: Field, columns: tuple[str, ...]) -> str:
    """Return the column of a file that a required field may be worked out from, or ''."""
    # Columns that are not read have no name, and most fields have nothing to come from.
    return item.derived_from if item.derived_from and item.derived_from in columns else ""
