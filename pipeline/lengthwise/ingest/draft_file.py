"""Writes the first draft of a [[file]] entry of mapping.toml, for the user to edit."""

import csv
import json
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from lengthwise.dictionary import EXPORTS
from lengthwise.errors import UnreadableError
from lengthwise.ingest.dialect import Dialect
from lengthwise.ingest.draft import CERTAIN, LIKELY, QUESTION, REFUSED, Proposal, propose
from lengthwise.ingest.identifiers import OWN_COLUMNS

_LOOKED_AT = 500
_CHILD_KEYS = ("treatment_id", "canal")


@dataclass(frozen=True, slots=True)
class Draft:
    """The draft of one file: its text and how many columns are how sure."""

    name: str
    text: str
    proposals: tuple[Proposal, ...]

    @property
    def questions(self) -> int:
        """Return the number of questions that the user has to answer."""
        return self.text.count("# QUESTION:")

    @property
    def counts(self) -> Counter[str]:
        """Return the number of columns by status."""
        return Counter(item.status for item in self.proposals)


def _decoded(path: Path) -> tuple[str, str]:
    try:
        data = path.read_bytes()
    except OSError:
        raise UnreadableError(f"{path.name}: the file cannot be opened") from None
    for encoding in ("utf-8-sig", "windows-1252"):
        try:
            return data.decode(encoding), encoding.removesuffix("-sig")
        except UnicodeDecodeError:
            continue
    raise UnreadableError(f"{path.name}: this is not a text table; export it as CSV")


def _separator(text: str) -> str:
    lines = text.splitlines()[:20]
    return max((",", ";", "\t", "|"), key=lambda mark: sum(line.count(mark) for line in lines))


def _header_place(rows: list[list[str]]) -> int:
    """Return where the header is: the first row as wide as the widest, with no empty end."""
    width = max((len([cell for cell in row if cell.strip()]) for row in rows[:10]), default=0)
    for place, row in enumerate(rows[:10]):
        if len([cell for cell in row if cell.strip()]) >= 0.8 * width:
            return place
    return 0


def _decimal(rows: list[list[str]], separator: str) -> str:
    if separator == ",":
        return "."
    cells = [cell for row in rows for cell in row if cell.strip()]
    commas = sum(
        cell.replace(",", "", 1).strip("+-").isdigit() and "," in cell for cell in cells
    )
    points = sum(
        cell.replace(".", "", 1).strip("+-").isdigit() and "." in cell for cell in cells
    )
    return "," if commas > points else "."


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _inline(values: dict[str, str]) -> str:
    pairs = ", ".join(f"{_quoted(key)} = {_quoted(value)}" for key, value in values.items())
    return "{ " + pairs + " }"


def _table(export: str, items: list[Proposal], keys: list[Proposal]) -> list[str]:
    """Return the lines of one table; what is open stands in comments."""
    decided = [item for item in items if item.status in (CERTAIN, LIKELY)]
    if not decided:
        return []
    plain = {item.header: item.field for item in [*keys, *decided] if not item.constants}
    wide = [item for item in decided if item.constants]
    lines = ["", "[[file.table]]", f'export = "{export}"', f"columns = {_inline(plain)}"]
    if export in ("treatments", "canals"):
        lines.append("distinct = true  # equal rows count once")
    if wide:
        rows = [
            f"  {{ columns = {_inline({item.header: item.field})}, "
            f"constants = {_inline(item.constants)} }},"
            for item in wide
        ]
        lines += ["rows_from = [", *rows, "]"]
    return lines


def _questions(proposals: list[Proposal]) -> list[str]:
    lines = []
    fields = {item.field for item in proposals}
    if "tooth" in fields:
        lines.append(
            "# QUESTION: how are teeth written? iso3950, universal (1-32) or quadrant_position\n"
            '# tooth_notation = "..."'
        )
    if "fill_offset_mm" in fields:
        lines.append(
            "# QUESTION: is a positive filling level short of the root end, or beyond it?\n"
            '# fill_sign = "..."  # positive_short or positive_beyond'
        )
    if {"treatment_date", "review_date"} & fields:
        lines.append(
            '# QUESTION: in which order are dates?\n# date_order = "..."  # ymd, dmy, mdy'
        )
    lines += [_question(group) for group in _alike(proposals, QUESTION)]
    lines += [
        f"# REFUSED: column {_quoted(item.header)}: {item.reason}."
        for item in proposals
        if item.status == REFUSED
    ]
    return lines


def _alike(proposals: list[Proposal], status: str) -> list[list[Proposal]]:
    """Group columns that one answer decides: the same field and method, canal by canal."""
    groups: dict[tuple[str, ...], list[Proposal]] = {}
    for item in proposals:
        if item.status == status:
            own = (
                (item.field, item.constants.get("method", "")) if item.field else (item.header,)
            )
            groups.setdefault(own, []).append(item)
    return list(groups.values())


def _question(group: list[Proposal]) -> str:
    first = group[0]
    headers = ", ".join(_quoted(item.header) for item in group)
    text = f"# QUESTION: what is column {headers}? {first.reason}."
    if not first.field:
        return text
    said = f" {_inline(first.constants)}" if first.constants else ""
    return f"{text} Perhaps {first.field}{said}?"


def _entry(path: Path, form: Dialect, skipped: int, proposals: list[Proposal]) -> str:
    separator = "tab" if form.separator == "\t" else form.separator
    lines = [
        f"# Draft for {path.name}. Answer each QUESTION, correct what is wrong, then copy it into",
        "# mapping.toml. Nothing is loaded by this draft.",
        "[[file]]",
        f"name = {_quoted(path.name)}",
        f'separator = "{separator}"',
        f'decimal = "{form.decimal}"',
        f'encoding = "{form.encoding}"',
        *([f"skip_lines = {skipped}"] if skipped else []),
        *_questions(proposals),
    ]
    for item in proposals:
        if item.status in (CERTAIN, LIKELY):
            said = f" {_inline(item.constants)}" if item.constants else ""
            lines.append(
                f"# {item.status}, {item.confidence} of 100: {_quoted(item.header)} is "
                f"{item.field}{said}, {item.reason}"
            )
    keys = [item for item in proposals if item.field in _CHILD_KEYS and not item.constants]
    for export in EXPORTS:
        own = [item for item in proposals if item.field and item.export == export]
        if export == "treatments":
            lines += _table(export, [item for item in own if item.field != "canal"], [])
        else:
            decided = [key for key in keys if key.status in (CERTAIN, LIKELY)]
            lines += _table(export, own, decided)
    return "\n".join(lines) + "\n"


def draft(path: Path) -> Draft:
    """Return the draft of one text table.

    Raises
    ------
    UnreadableError
        The file is not a text table with a header.
    """
    text, encoding = _decoded(path)
    separator = _separator(text)
    rows = list(csv.reader(text.splitlines(), delimiter=separator))
    place = _header_place(rows)
    if not rows or not any(cell.strip() for cell in rows[place]):
        raise UnreadableError(f"{path.name}: the file is empty; expected a header line")
    body = [row for row in rows[place + 1 : place + 1 + _LOOKED_AT] if any(row)]
    proposals = [
        propose(header.strip(), [row[at] for row in body if at < len(row)])
        for at, header in enumerate(rows[place])
        if header.strip() and header.strip() not in OWN_COLUMNS
    ]
    proposals = _without_doubles(proposals)
    form = Dialect(separator, _decimal(body, separator), encoding)
    return Draft(path.name, _entry(path, form, place, proposals), tuple(proposals))


def _without_doubles(proposals: list[Proposal]) -> list[Proposal]:
    """Turn all but the surest of the columns that claim one place into questions."""
    claims = Counter(
        (item.field, *sorted(item.constants.items())) for item in proposals if item.field
    )
    found = []
    for item in proposals:
        if item.field and claims[(item.field, *sorted(item.constants.items()))] > 1:
            item = Proposal(
                item.header, item.field, item.constants, 40, QUESTION,
                f"another column also seems to be {item.field}",
            )  # fmt: skip
        found.append(item)
    return found
