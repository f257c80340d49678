"""The SQL that reads one file as text, types it and marks its faulty rows, in one pass."""

from dataclasses import dataclass

from lengthwise.check.fields import clean_column, plan_fields, quoted, typed_column
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


def plan_reading(export: Schema, source: SourceFile) -> ReadingPlan:
    """Return the statements that read, type and judge one file."""
    plans = plan_fields(export, source.columns, source.rule.dialect)
    typed = ", ".join(typed_column(plan) for plan in plans)
    conditions = [condition for plan in plans for _, condition in plan.faults]
    conditions.append("has_extra")
    faulty = " or ".join(f"coalesce({condition}, false)" for condition in conditions)
    clean = ", ".join(
        clean_column(item, export, item.name in source.columns) for item in export.fields
    )
    parsed = ", ".join(f"{plan.parsed} as p_{plan.item.name}" for plan in plans)
    levels = (
        "with clean as (select {extra}{nameless} as has_extra, {clean} from {rows}), "
        "parsed as (select *, {parsed} from clean) "
    )
    one_pass = levels.format(
        extra="", nameless=_nameless(source), clean=clean, rows=reader(source), parsed=parsed
    )
    again = levels.format(
        extra=f"row_number, {_longest(source)} > {LONGEST_FIELD} as is_too_long, ",
        nameless=_nameless(source), clean=clean, rows="raw_rows", parsed=parsed,
    )  # fmt: skip
    too_long = (
        f"select row_number, '' as column_name, {quoted(export.entity + '.field_too_long')} "
        "as code from parsed where is_too_long"
    )
    each = [
        f"select row_number, {quoted(plan.item.name)} as column_name, {quoted(code)} as code "
        f"from parsed where not is_too_long and ({condition})"
        for plan in plans
        for code, condition in plan.faults
    ]
    extra = (
        f"select row_number, '' as column_name, {quoted(export.entity + '.too_many_fields')} "
        "as code from parsed where has_extra"
    )
    return ReadingPlan(
        typed=f"{one_pass} select {typed}, {faulty} as is_faulty from parsed",
        raw=f"select row_number() over () as row_number, * from {reader(source)}",
        findings=f"{again} {' union all '.join([too_long, extra, *each])}",
    )
