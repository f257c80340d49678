"""Turns the data dictionary into the SQL expressions that type and judge one file's columns.

The expressions are built from the dictionary alone; nothing of a file enters them but the
declared decimal mark and date order.
"""

from dataclasses import dataclass

from lengthwise.check.codes import field_code
from lengthwise.dictionary import Field, Schema
from lengthwise.ingest.dialect import DATE_ORDERS, Dialect

_TYPES = {"number": "double", "integer": "integer", "boolean": "boolean", "date": "date"}


@dataclass(frozen=True, slots=True)
class FieldPlan:
    """How one column becomes a typed value, and the conditions under which it is at fault."""

    item: Field
    parsed: str
    faults: tuple[tuple[str, str], ...]


def quoted(text: str) -> str:
    """Return a text of the dictionary as an SQL literal."""
    return "'" + text.replace("'", "''") + "'"


def sql_type(item: Field) -> str:
    """Return the DuckDB type of a field."""
    return _TYPES.get(item.type, "varchar")


def _parsed(item: Field, dialect: Dialect) -> str:
    text = item.name
    if item.type in ("number", "integer"):
        if dialect.decimal == ",":
            text = f"if(contains({text}, '.'), null, replace({text}, ',', '.'))"
        number = f"try_cast({text} as double)"
        return f"if(isfinite({number}), {number}, null)"
    if item.type == "boolean":
        return f"case lower({text}) when 'yes' then true when 'no' then false end"
    if item.type == "date":
        forms = ", ".join(map(quoted, DATE_ORDERS[dialect.date_order]))
        return f"cast(try_strptime({text}, [{forms}]) as date)"
    return text


def _conditions(item: Field, present: bool, waived_by: str) -> list[tuple[str, str]]:
    text, value = item.name, f"p_{item.name}"
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


def plan_fields(export: Schema, columns: tuple[str, ...], dialect: Dialect) -> list[FieldPlan]:
    """Return the plan of every field of an export for a file with these columns."""
    plans = []
    for item in export.fields:
        present = item.name in columns
        waived = item.derived_from if item.derived_from in columns else ""
        plans.append(
            FieldPlan(
                item,
                _parsed(item, dialect) if present else "null",
                tuple(
                    (field_code(export.entity, item, fault), condition)
                    for fault, condition in _conditions(item, present, waived)
                ),
            )
        )
    return plans


def clean_column(item: Field, export: Schema, present: bool) -> str:
    """Return the expression of a field's text without blanks, null where a missing code stands."""
    if not present:
        return f"cast(null as varchar) as {item.name}"
    codes = ", ".join(quoted(code) for code in export.missing)
    trimmed = f"trim({item.name})"
    return f"if({trimmed} in ({codes}), null, {trimmed}) as {item.name}"


def typed_column(plan: FieldPlan) -> str:
    """Return the expression of a field's stored value."""
    item, value = plan.item, f"p_{plan.item.name}"
    if item.type == "integer":
        value = f"if({value} = trunc({value}), {value}, null)"
    if item.name == "period":
        value = f"coalesce({value}, strftime(p_treatment_date, '%Y-%m'))"
    return f"try_cast({value} as {sql_type(item)}) as {item.name}"
