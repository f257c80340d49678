"""Drafts [[file]] entries of mapping.toml from a user's own files, for the user to edit."""

import codecs
import csv
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

from lengthwise.errors import UnreadableError
from lengthwise.ingest.dialect import Dialect
from lengthwise.ingest.draft import QUESTION, Proposal, propose
from lengthwise.ingest.draft_evidence import totals
from lengthwise.ingest.draft_questions import Table
from lengthwise.ingest.draft_text import written
from lengthwise.ingest.identifiers import OWN_COLUMNS
from lengthwise.ingest.mapping import Mapping
from lengthwise.ingest.workbook import SUFFIXES, sheets_of
from lengthwise.scratch import scratch_folder

_LOOKED_AT = 500


@dataclass(frozen=True, slots=True)
class Draft:
    """The draft of one file or sheet: its text, its questions, and how sure each column is."""

    name: str
    text: str
    questions: int
    proposals: tuple[Proposal, ...]

    @property
    def counts(self) -> Counter[str]:
        """Return the number of columns by status."""
        return Counter(item.status for item in self.proposals)


def _decoded(path: Path) -> tuple[str, str]:
    try:
        data = path.read_bytes()
    except OSError:
        raise UnreadableError(f"{path.name}: the file cannot be opened") from None
    marked = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    for encoding in ("utf-16",) if marked else ("utf-8-sig", "windows-1252"):
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
    body = [row for row in rows[place + 1 :] if any(row)]
    form = Dialect(separator, _decimal(body[:_LOOKED_AT], separator), encoding)
    return _drafted(path.name, form, place, rows[place] if rows else [], body)


def drafts(path: Path) -> list[Draft]:
    """Return the drafts of a file: one for a text table, one for each sheet of a workbook."""
    if path.suffix.lower() not in SUFFIXES:
        return [draft(path)]
    found = []
    with scratch_folder() as work:
        for sheet in sheets_of(path, Mapping(), work):
            with sheet.path.open(encoding="utf-8", newline="") as handle:
                rows = list(csv.reader(handle))
            place = _header_place(rows)
            found.append(_drafted(sheet.path.name, None, place, rows[place], rows[place + 1 :]))
    return found


def _drafted(
    name: str, form: Dialect | None, place: int, header: list[str], body: list[list[str]]
) -> Draft:
    if not any(cell.strip() for cell in header):
        raise UnreadableError(f"{name}: the file is empty; expected a header line")
    marks = totals(header, body)
    looked_at = [
        row
        for row in body[:_LOOKED_AT]
        if not any(
            cell.strip() in marks.get(head.strip(), ())
            for head, cell in zip(header, row, strict=False)
        )
    ]
    values = {
        head.strip(): [row[at] for row in looked_at if at < len(row)]
        for at, head in enumerate(header)
        if head.strip() and head.strip() not in OWN_COLUMNS
    }
    proposals = tuple(_without_doubles([propose(head, own) for head, own in values.items()]))
    text, questions = written(Table(name, form, place, proposals, values, marks))
    return Draft(name, text, questions, proposals)


def _without_doubles(proposals: list[Proposal]) -> list[Proposal]:
    """Turn all but the surest of the columns that claim one place into questions."""
    claims = Counter(
        (item.field, *sorted(item.constants.items())) for item in proposals if item.field
    )
    found = []
    for item in proposals:
        if item.field and claims[(item.field, *sorted(item.constants.items()))] > 1:
            item = replace(
                item, confidence=40, status=QUESTION,
                reason=f"another column also seems to be {item.field}",
            )  # fmt: skip
        found.append(item)
    return found
