"""The SQL that reads one file as text, types it and marks its faulty rows, in one pass."""

from dataclasses import dataclass

from lengthwise.check.fields import (
    FieldPlan,
    clean_text,
    parsed,
    plan_fields,
    quoted,
    stored_value,
)
from lengthwise.check.quick import is_plain, quick_value
from lengthwise.dictionary import Schema
from lengthwise.ingest.repair import LONGEST_FIELD
from lengthwise.ingest.source import SourceFile


@dataclass(frozen=True, slots=True)
class ReadingPlan:
    """Statements for one file; each takes the parameter $path."""

    typed: str
    raw: str
    findings: str


def reader(source: SourceFile) -> str:
    """Return the call that reads a file as text; it takes the parameter $path."""
    names = [name or f"_column_{at + 1}" for at, name in enumerate(source.columns)]
    columns = ", ".join(f"{quoted(name)}: 'varchar'" for name in names)
    separator = quoted(source.rule.dialect.separator)
    return (
        f"read_csv($path, header = true, auto_detect = false, strict_mode = true, "
        f"null_padding = false, delim = {separator}, quote = '\"', escape = '\"', "
        f"max_line_size = 67108864, buffer_size = 134217728, columns = {{{columns}}})"
    )


def _longest(source: SourceFile) -> str:
    lengths = ", ".join(f"coalesce(length({name}), 0)" for name in source.columns if name)
    return f"greatest({lengths}, 0)"


def _nameless(source: SourceFile) -> str:
    """Return whether anything stands in a column without a name, as spreadsheets write them."""
    filled = [
        f"coalesce(trim(_column_{at + 1}), '') <> ''"
        for at, head in enumerate(source.header)
        if not head
    ]
    return "(" + (" or ".join(filled) or "false") + ")"


def _carefully(export: Schema, source: SourceFile, *, inline: bool) -> list[FieldPlan]:
    """Return the plan of every field, over the columns `x` and `p_x` or over bare cells."""
    dialect = source.rule.dialect
    texts, values = {}, {}
    for item in export.fields:
        name, present = item.name, item.name in source.columns
        clean = clean_text(name, export) if present else "cast(null as varchar)"
        value = parsed(item, dialect, clean) if present else "null"
        texts[name] = f"({clean})" if inline else name
        values[name] = f"({value})" if inline else f"p_{name}"
    return plan_fields(export, source.columns, texts, values)


def _faulty(plans: list[FieldPlan]) -> str:
    conditions = [condition for plan in plans for _, condition in plan.faults]
    return " or ".join(f"coalesce({condition}, false)" for condition in conditions)


def _typed(export: Schema, source: SourceFile) -> str:
    """Return the statement of one pass: typed values, and a mark for faulty rows."""
    quick = {
        item.name: quick_value(item, source.rule.dialect)
        if item.name in source.columns
        else "null"
        for item in export.fields
    }
    found = ", ".join(f"{value} as q_{name}" for name, value in quick.items())
    names = {name: f"q_{name}" for name in quick}
    plain = [is_plain(item, export, source.columns, names[item.name]) for item in export.fields]
    plans = _carefully(export, source, inline=True)
    shown = ", ".join(
        f"case when is_plain then {stored_value(plan.item, names)} else {plan.stored} end "
        f"as {plan.item.name}"
        for plan in plans
    )
    nameless = _nameless(source)
    return (
        f"with quick as (select *, {found} from {reader(source)}), marked as (select *, "
        f"coalesce({' and '.join(plain)} and not {nameless}, false) as is_plain from quick) "
        f"select {shown}, case when is_plain then false else {_faulty(plans)} or {nameless} "
        "end as is_faulty from marked"
    )


def _findings(export: Schema, source: SourceFile) -> str:
    """Return the statement that says of the rows in `raw_rows` what is wrong."""
    plans = _carefully(export, source, inline=False)
    clean = ", ".join(
        (
            clean_text(item.name, export)
            if item.name in source.columns
            else "cast(null as varchar)"
        )
        + f" as {item.name}"
        for item in export.fields
    )
    values = ", ".join(
        (
            parsed(item, source.rule.dialect, item.name)
            if item.name in source.columns
            else "null"
        )
        + f" as p_{item.name}"
        for item in export.fields
    )
    entity = export.entity
    whole = {
        f"{entity}.field_too_long": "is_too_long",
        f"{entity}.too_many_fields": "has_extra",
    }
    rows = [
        f"select row_number, '' as column_name, {quoted(code)} as code from parsed where {mark}"
        for code, mark in whole.items()
    ]
    rows += [
        f"select row_number, {quoted(plan.item.name)} as column_name, {quoted(code)} as code "
        f"from parsed where not is_too_long and ({condition})"
        for plan in plans
        for code, condition in plan.faults
    ]
    return (
        f"with clean as (select row_number, {_longest(source)} > {LONGEST_FIELD} as is_too_long, "
        f"{_nameless(source)} as has_extra, {clean} from raw_rows), "
        f"parsed as (select *, {values} from clean) {' union all '.join(rows)}"
    )


def plan_reading(export: Schema, source: SourceFile) -> ReadingPlan:
    """Return the statements that read, type and judge one file."""
    return ReadingPlan(
        typed=_typed(export, source),
        raw=f"select row_number() over () as row_number, * from {reader(source)}",
        findings=_findings(export, source),
    )
