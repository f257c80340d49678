"""What the values of a column can be: which notations of teeth, which orders of dates, totals."""

import re
from collections.abc import Sequence

from lengthwise.dictionary import schema
from lengthwise.ingest.identifier_words import header_words
from lengthwise.ingest.reshape import iso_tooth
from lengthwise.ingest.reshape_rules import TOOTH_NOTATIONS

_TOTALS = frozenset(
    {"total", "totals", "sum", "sums", "summe", "gesamt", "somme", "totaal", "totale", "totaux",
     "suma", "subtotal", "average", "mean", "mittelwert", "moyenne", "media", "gemiddelde",
     "count", "anzahl"}
)  # fmt: skip
_DATE = re.compile(r"(\d{1,4})[-/.](\d{1,2})[-/.](\d{1,4})")


def notations(values: Sequence[str]) -> tuple[str, ...]:
    """Return the notations in which every value is a tooth; all of them where none is."""
    given = {value.strip() for value in values if value.strip()}
    allowed = set(schema("treatments").field("tooth").enum)
    fitting = tuple(
        name
        for name in TOOTH_NOTATIONS
        if given and all(iso_tooth(value, name) in allowed for value in given)
    )
    return fitting or TOOTH_NOTATIONS


def date_orders(values: Sequence[str]) -> tuple[str, ...]:
    """Return the orders of year, month and day in which every value is a date."""
    parts = [_DATE.fullmatch(value.strip()) for value in values if value.strip()]
    numbers = [tuple(map(int, found.groups())) for found in parts if found]
    if not numbers or len(numbers) < len(parts):
        return ()
    places = {"ymd": (0, 1, 2), "dmy": (2, 1, 0), "mdy": (2, 0, 1)}
    return tuple(
        order
        for order, (year, month, day) in places.items()
        if all(
            one[year] > 1900 and 1 <= one[month] <= 12 and 1 <= one[day] <= 31
            for one in numbers
        )
    )


def totals(header: Sequence[str], rows: Sequence[Sequence[str]]) -> dict[str, list[str]]:
    """Return the words that mark rows of totals, by the column in which they stand first."""
    found: dict[str, list[str]] = {}
    for row in rows:
        place, cell = next(((at, cell) for at, cell in enumerate(row) if cell.strip()), (0, ""))
        words = header_words(cell)
        if words and set(words) <= _TOTALS and place < len(header):
            known = found.setdefault(header[place].strip(), [])
            if cell.strip() not in known:
                known.append(cell.strip())
    return found
