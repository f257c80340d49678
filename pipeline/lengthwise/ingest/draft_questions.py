"""What a draft asks: the questions about one file or sheet, and the lines that answers bring in."""

import json
from collections.abc import Iterable
from dataclasses import dataclass, field

from lengthwise.ingest.dialect import Dialect
from lengthwise.ingest.draft import CERTAIN, LIKELY, QUESTION, REFUSED, Proposal
from lengthwise.ingest.draft_evidence import date_orders, notations
from lengthwise.ingest.identifier_words import FREE_TEXT

DATES = ("treatment_date", "review_date")


@dataclass(frozen=True, slots=True)
class Table:
    """What was read of one file or sheet, to draft from; `form` is None for a sheet."""

    name: str
    form: Dialect | None
    skipped: int
    proposals: tuple[Proposal, ...]
    values: dict[str, list[str]]
    totals: dict[str, list[str]] = field(default_factory=dict)


@dataclass(slots=True)
class Questions:
    """The questions so far, as lines, and the number of each column's question."""

    count: int = 0
    lines: list[str] = field(default_factory=list)
    of_column: dict[str, int] = field(default_factory=dict)

    def ask(self, text: str, columns: Iterable[str] = ()) -> int:
        """Add a question, which may decide columns; return its number."""
        self.count += 1
        self.lines.append(f"# QUESTION {self.count}: {text}")
        self.of_column |= dict.fromkeys(columns, self.count)
        return self.count

    def answer(self, number: int, line: str, choice: str = "") -> None:
        """Add a line that an answer brings in."""
        self.lines.append(marked(line, number, choice))


def marked(line: str, number: int, choice: str = "") -> str:
    """Return a line that an answer to a question brings in."""
    return f"# {line}  # Q{number}" + (f", if {choice}" if choice else "")


def quoted(text: str) -> str:
    """Return a text as TOML writes it, which escapes one character more than JSON."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def inline(values: dict[str, str]) -> str:
    """Return an inline table of TOML."""
    pairs = ", ".join(f"{quoted(key)} = {quoted(value)}" for key, value in values.items())
    return "{ " + pairs + " }"


def is_decided(item: Proposal) -> bool:
    return item.status in (CERTAIN, LIKELY)


def _declared(table: Table, ask: Questions) -> None:
    """Ask for what is always declared: notation, order of dates, sign and unit."""
    by_field: dict[str, list[Proposal]] = {}
    for item in table.proposals:
        by_field.setdefault(item.field, []).append(item)
    if "tooth" in by_field:
        number = ask.ask(
            "how are teeth written? iso3950, universal (1-32) or quadrant_position (UR6, 1-6)"
        )
        for name in notations(_values(table, by_field["tooth"])):
            ask.answer(number, f'tooth_notation = "{name}"', name)
    _dates(table, [item for name in DATES for item in by_field.get(name, [])], ask)
    _level(by_field.get("fill_offset_mm", []), ask)
    units = {item.unit for item in table.proposals if item.unit}
    if units:
        number = ask.ask(
            f"are lengths in {' or '.join(sorted(units))}? In mm they would not fit"
        )
        for unit in sorted(units):
            ask.answer(number, f'unit = "{unit}"', unit if len(units) > 1 else "")


def _values(table: Table, items: list[Proposal]) -> list[str]:
    return [value for item in items for value in table.values[item.header]]


def _dates(table: Table, items: list[Proposal], ask: Questions) -> None:
    if not items:
        return
    orders = date_orders(_values(table, items))
    open_ones = [item.header for item in items if not is_decided(item)]
    if len(orders) == 1 and not open_ones:
        ask.lines.append(
            f'date_order = "{orders[0]}"  # certain: no other order fits the values'
        )
        return
    seems = "".join(
        f"is {quoted(name)} the date of treatment or review? " for name in open_ones
    )
    number = ask.ask(f"{seems}in which order are dates written?", open_ones)
    for order in orders or ("ymd", "dmy", "mdy"):
        ask.answer(number, f'date_order = "{order}"', order if len(orders) != 1 else "")


def _level(items: list[Proposal], ask: Questions) -> None:
    if not items:
        return
    from_confirmed = [item.header for item in items if item.from_confirmed]
    text = "is a positive filling level short of the end, or beyond it?"
    if from_confirmed:
        text = f"{quoted(from_confirmed[0])} seems to count from the confirmed length: " + text
    number = ask.ask(text, from_confirmed)
    for sign in ("positive_beyond", "positive_short"):
        ask.answer(number, f'fill_sign = "{sign}"', sign)
    if from_confirmed:
        ask.answer(number, 'fill_reference = "confirmed_length"')
        ask.answer(number, "confirmed_length_ends_mm = -0.5")
        ask.lines.append(
            "#   where the confirmed length ends against the radiographic end, in mm"
        )


def _left_out(table: Table, ask: Questions) -> None:
    """Ask whether columns that are no field may be left out, with a reason for each."""
    reasons = {
        item.header: "free text, not used" if item.status == REFUSED else "not of this audit"
        for item in table.proposals
        if not item.field and (item.status == QUESTION or FREE_TEXT in item.reason)
    }
    if reasons:
        names = ", ".join(map(quoted, reasons))
        number = ask.ask(f"may {names} be left out? Give the reason, or map what is of use")
        ask.answer(number, f"ignore = {inline(reasons)}")
    for item in table.proposals:
        if item.status == REFUSED and item.header not in reasons:
            ask.lines.append(f"# REFUSED: column {quoted(item.header)}: {item.reason}.")


def _open_columns(table: Table, ask: Questions) -> None:
    groups: dict[tuple[str, str], list[Proposal]] = {}
    for item in table.proposals:
        if item.field and not is_decided(item) and item.header not in ask.of_column:
            groups.setdefault((item.field, item.constants.get("method", "")), []).append(item)
    for (name, method), group in groups.items():
        headers = [item.header for item in group]
        what = f"{name}, read by {method}" if method else name
        if method == "film":
            what = f"{name}, read on a film before treatment (film) or with a file (film_file)"
        ask.ask(
            f"is {', '.join(map(quoted, headers))} {what}? {group[0].reason[:1].upper()}"
            f"{group[0].reason[1:]}", headers,
        )  # fmt: skip


def _open_words(table: Table, ask: Questions) -> dict[str, int]:
    """Ask what words stand for; return the number of each field's question."""
    numbers = {}
    for item in table.proposals:
        if item.recodes and item.recodes.is_open and item.field not in numbers:
            numbers[item.field] = ask.ask(
                f"what do the words of {quoted(item.header)} stand for? See its recode below"
            )
    return numbers


def questions_of(table: Table) -> tuple[Questions, dict[str, int]]:
    """Return the questions about a table, and the number of each field's question about words."""
    ask = Questions()
    _declared(table, ask)
    _open_columns(table, ask)
    words = _open_words(table, ask)
    _left_out(table, ask)
    return ask, words
