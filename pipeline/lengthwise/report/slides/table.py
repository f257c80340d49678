"""A table on a slide: columns as wide as their longest words need, letters that fit."""

from xml.etree import ElementTree

from lengthwise.report.slides.boxes import Box, set_box
from lengthwise.report.slides.names import DRAWING
from lengthwise.report.slides.text import set_sizes, shown_text

MARGINS = {"marL": "50000", "marR": "50000", "marT": "25000", "marB": "25000"}
LEAST_LETTERS, MOST_LETTERS = 5, 30
ROW_HEIGHT = 270000


def shape_table(frame: ElementTree.Element, space: Box, points: float) -> None:
    """Place the table at the top of the space and share the width by content."""
    table = next(frame.iter(f"{DRAWING}tbl"))
    rows = list(table.iter(f"{DRAWING}tr"))
    set_box(frame, Box(space.x, space.y, space.width, ROW_HEIGHT * len(rows)))
    for column, width in zip(
        table.iter(f"{DRAWING}gridCol"), _widths(rows, space.width), strict=True
    ):
        column.set("w", str(width))
    for row in rows:
        row.set("h", str(ROW_HEIGHT))
    for cell in table.iter(f"{DRAWING}tc"):
        style = cell.find(f"{DRAWING}tcPr")
        if style is None:
            style = ElementTree.SubElement(cell, f"{DRAWING}tcPr")
        for name, value in MARGINS.items():
            style.set(name, value)
    set_sizes(frame, points)


def _widths(rows: list[ElementTree.Element], width: int) -> list[int]:
    letters = [[shown_text(cell) for cell in row.iter(f"{DRAWING}tc")] for row in rows]
    needs = [
        min(max(LEAST_LETTERS, *(_need(text) for text in column)), MOST_LETTERS)
        for column in zip(*letters, strict=True)
    ]
    return [width * need // sum(needs) for need in needs]


def _need(text: str) -> int:
    """Return the letters of the longest word, or half of the whole where that is more."""
    return max(max(map(len, text.split(" ")), default=0) + 1, len(text) // 2 + 1)
