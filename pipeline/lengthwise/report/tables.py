"""Frames as Markdown pipe tables: escaped text, numbers to the right, units in headers."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lengthwise.report.escape import markdown
from lengthwise.report.trace import footer
from lengthwise.report.widths import column_widths

MASKED = "[m]"
MASKED_NOTE = "[m] = hidden, since the count is small enough to point at a person."
EMPTY = "–"
NO_BREAK = "\u00a0"


class Markup(str):
    """Markdown of our own making, which a table passes through."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Column:
    """A heading (with its unit) and whether its cells are numbers."""

    heading: str
    is_number: bool = False


def text(heading: str) -> Column:
    return Column(heading)


def figure(heading: str) -> Column:
    """Return a right-aligned column."""
    return Column(heading, is_number=True)


def pipe_table(
    columns: Sequence[Column],
    rows: Sequence[Sequence[str]],
    *,
    caption: str,
    label: str,
    ids: Iterable[str] = (),
) -> str:
    """Return a captioned table; every cell is escaped unless it is Markup.

    A column with nothing in any row is left out. `ids` are the results shown; they stand
    in small print under the table.

    Raises
    ------
    ValueError
        A row has another number of cells than there are columns.
    """
    if wrong := [row for row in rows if len(row) != len(columns)]:
        raise ValueError(f"rows must have {len(columns)} cells, got {len(wrong[0])}")
    filled = [index for index in range(len(columns)) if any(row[index] for row in rows)]
    columns = [columns[index] for index in filled]
    rows = [[row[index] for index in filled] for row in rows]
    cells = [
        [_cell(value, column) for value, column in zip(row, columns, strict=True)]
        for row in rows
    ]
    shown = [[cell.replace("\\", "") for cell in row] for row in cells]
    widths = column_widths([column.heading for column in columns], shown)
    lines = [
        _line([markdown(column.heading) for column in columns]),
        _line([_rule(column, width) for column, width in zip(columns, widths, strict=True)]),
        *(_line(row) for row in cells),
    ]
    note = f"\n\n{markdown(MASKED_NOTE)}" if _holds_masked(rows) else ""
    traced = footer(ids)
    note += f"\n\n{traced}" if traced else ""
    return "\n".join(lines) + f"\n\n: {markdown(caption)} {{#tbl-{label}}}{note}\n"


def bullet_list(items: Sequence[str]) -> str:
    """Return a list; items are Markdown already."""
    return "\n".join(f"- {item}" for item in items) + "\n"


def callout(kind: str, title: str, body: str) -> str:
    """Return a callout block; `title` is escaped, `body` is Markdown already."""
    from lengthwise.report.escape import attribute

    return f'::: {{.callout-{kind} title="{attribute(title)}"}}\n\n{body.strip()}\n\n:::\n'


def _cell(value: str, column: Column) -> str:
    if isinstance(value, Markup):
        return str(value)
    shown = markdown(value) or EMPTY
    # "171 of 214" and "0.12 (0.05 to 0.19)" stay on one line; a reason in words may break.
    is_numeric = column.is_number and value.rstrip(")*")[-1:].isdigit()
    return shown.replace(" ", NO_BREAK) if is_numeric else shown


def _line(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _rule(column: Column, width: int) -> str:
    return "-" * (width - 1) + (":" if column.is_number else "-")


def _holds_masked(rows: Sequence[Sequence[str]]) -> bool:
    return any(MASKED in str(value) for row in rows for value in row)
