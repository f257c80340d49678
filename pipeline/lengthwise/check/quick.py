"""What most cells are: written as the dictionary asks, without blanks around them.

Such cells are told from the rest by one cheap test for each column; a row of nothing else
needs none of the careful expressions of `fields`. The values are the same by either way.
"""

from lengthwise.check.fields import (
    date_of,
    missing_codes,
    number_of,
    quoted,
    sql_type,
    waiving,
)
from lengthwise.dictionary import Field, Schema
from lengthwise.ingest.dialect import Dialect


def quick_value(item: Field, dialect: Dialect) -> str:
    """Return the expression of a cell's value, null or wrong where the cell is not plain."""
    cell = item.name
    if item.enum:
        return f"try_cast({cell} as {sql_type(item)})"
    if item.type in ("number", "integer"):
        return number_of(cell, dialect)
    if item.type == "boolean":
        return f"case {cell} when 'yes' then true when 'no' then false end"
    if item.type == "date":
        return date_of(cell, dialect)
    return cell


def is_plain(item: Field, export: Schema, columns: tuple[str, ...], value: str) -> str:
    """Return the condition under which a cell is without fault and its quick value right."""
    empty = _may_be_empty(item, columns)
    if item.name not in columns:
        return empty
    shape = " and ".join(_shape(item, export, value))
    return f"({shape})" if empty == "false" else f"({item.name} is null and {empty} or {shape})"


def _may_be_empty(item: Field, columns: tuple[str, ...]) -> str:
    if not item.required:
        return "true"
    source = waiving(item, columns)
    return f"{source} is not null" if source else "false"


def _shape(item: Field, export: Schema, value: str) -> list[str]:
    if item.type in ("number", "integer"):
        limits = [
            f"{value} {sign} {limit}"
            for sign, limit in ((">=", item.minimum), ("<=", item.maximum))
            if limit is not None
        ]
        whole = [f"{value} = trunc({value})"] if item.type == "integer" else []
        return (
            [*whole, *limits] if len(limits) == 2 else [f"isfinite({value})", *whole, *limits]
        )
    if item.type == "boolean":
        return [f"{value} is not null"]
    if item.enum:
        # A practice's own values are not looked through: these never survive the careful way.
        odd = [quoted(one) for one in item.enum if one in export.missing or one != one.strip()]
        return [
            f"{value} is not null",
            *([f"{item.name} not in ({', '.join(odd)})"] if odd else []),
        ]
    if item.type == "date":
        return [f"{value} is not null", f"not contains({item.name}, ' ')"]
    no_code = f"{item.name} not in ({missing_codes(export)})"
    if item.pattern:
        return [no_code, f"regexp_full_match({item.name}, {quoted(item.pattern)})"]
    return [no_code, f"trim({item.name}) = {item.name}"]
