"""Writes a drafted [[file]] entry: each line with its confidence, each question with its lines.

A line that depends on an answer is a comment that ends in the number of its question, so that
answering is taking away a sign. Nothing that is open can be loaded by oversight: a table of
which only keys are decided is a comment as a whole.
"""

import re

from lengthwise.dictionary import EXPORTS
from lengthwise.ingest.draft import QUESTION, Proposal
from lengthwise.ingest.draft_questions import (
    Questions,
    Table,
    inline,
    is_decided,
    marked,
    questions_of,
    quoted,
)
from lengthwise.ingest.recodes import Recode

KEYS = ("treatment_id", "canal")
_FEW_CHOICES = 3
_HOW = (
    "# Draft for {name}. Nothing is loaded by it.",
    "# Answer each QUESTION by taking away the # before the lines that end in its number, or write",
    "# them anew; correct what is wrong; then copy all of it into mapping.toml.",
)


def _column_lines(item: Proposal, ask: Questions) -> list[str]:
    """Return the line of one column; a film has one for each thing that it may be."""
    number = ask.of_column.get(item.header, 0)
    said = f"{item.status}, {item.confidence} of 100: {item.reason}"
    plain = f"{quoted(item.header)} = {quoted(item.field)}"
    if not item.constants:
        return [f"{plain}  # {said}" if is_decided(item) else marked(plain, number)]
    choices = {"": item.constants}
    if item.constants.get("method") == "film" and not is_decided(item):
        choices = {name: {**item.constants, "method": name} for name in ("film", "film_file")}
    lines = []
    for choice, constants in choices.items():
        line = (
            f"  {{ columns = {inline({item.header: item.field})}, "
            f"constants = {inline(constants)} }},"
        )
        lines.append(f"{line}  # {said}" if is_decided(item) else marked(line, number, choice))
    return lines


def _recode_lines(items: list[Proposal], words: dict[str, int]) -> list[str]:
    lines: list[str] = []
    done: dict[str, dict[str, Recode]] = {}
    for item in items:
        for one in item.recodes.items if item.recodes else ():
            done.setdefault(item.field, {}).setdefault(one.word, one)
    for name, recodes in done.items():
        lines += ["", f"[file.table.recode.{name}]"]
        for one in recodes.values():
            lines += _word_lines(one, words.get(name, 0))
    return lines


def _word_lines(one: Recode, number: int) -> list[str]:
    if one.status != QUESTION:
        return [f"{quoted(one.word)} = {quoted(one.to[0])}  # {one.status}"]
    if len(one.to) > _FEW_CHOICES:
        choices = ", ".join(one.to)
        return [f'# {quoted(one.word)} = "..."  # Q{number}: one of {choices}']
    return [marked(f"{quoted(one.word)} = {quoted(to)}", number, to) for to in one.to]


def _table_lines(
    export: str, items: list[Proposal], keys: list[Proposal], ask: Questions,
    words: dict[str, int], is_long: bool,
) -> list[str]:  # fmt: skip
    if not items:
        return []
    plain = [item for item in items if not item.constants]
    wide = [item for item in items if item.constants]
    lines = ["", "[[file.table]]", f'export = "{export}"']
    if export in ("treatments", "canals") or (export == "fills" and is_long):
        lines.append("distinct = true  # equal rows count once")
    if wide:
        lines += [
            "rows_from = [",
            *(line for item in wide for line in _column_lines(item, ask)),
            "]",
        ]
    if keys or plain:
        lines += ["", "[file.table.columns]"]
        lines += [f"{quoted(key.header)} = {quoted(key.field)}" for key in keys]
        lines += [line for item in plain for line in _column_lines(item, ask)]
    lines += _recode_lines([*keys, *items], words)
    if any(map(is_decided, items)):
        return lines
    numbers = sorted(
        {ask.of_column[item.header] for item in items if item.header in ask.of_column}
    )
    mark = " or ".join(f"Q{number}" for number in numbers) or "no question: add its columns"
    return [
        line if not line or line.startswith("# ") else f"# {line}  # {mark}" for line in lines
    ]


def _form_lines(table: Table) -> list[str]:
    lines = ["[[file]]", f"name = {quoted(table.name)}"]
    if table.form is not None:
        separator = "tab" if table.form.separator == "\t" else table.form.separator
        lines += [
            f'separator = "{separator}"', f'decimal = "{table.form.decimal}"',
            f'encoding = "{table.form.encoding}"',
        ]  # fmt: skip
    if table.skipped:
        lines.append(f"skip_lines = {table.skipped}  # likely: lines above the header")
    if table.totals:
        pairs = ", ".join(
            f"{quoted(head)} = [{', '.join(map(quoted, found))}]"
            for head, found in table.totals.items()
        )
        lines.append(f"skip_where = {{ {pairs} }}  # likely: rows that hold a total")
    return lines


def written(table: Table) -> tuple[str, int]:
    """Return the draft of one file or sheet, and the number of its questions."""
    ask, words = questions_of(table)
    lines = [line.format(name=table.name) for line in _HOW]
    lines += [*_form_lines(table), *ask.lines]
    fields = {item.field for item in table.proposals if not item.constants}
    keys = [
        item
        for item in table.proposals
        if item.field in KEYS and not item.constants and is_decided(item)
    ]
    for export in EXPORTS:
        own = [item for item in table.proposals if item.field and item.export == export]
        if export == "treatments":
            own, shared = [item for item in own if item.field != "canal"], []
            if {item.field for item in own} <= {"treatment_id"}:
                continue  # a key alone makes no treatment
        else:
            shared = keys
        lines += _table_lines(export, own, shared, ask, words, "method" in fields)
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)) + "\n", ask.count
