"""A record that is not a row of its table."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BadShape:
    """A record that is not a row: its number, what is wrong, and all that stood in it."""

    row_number: int
    fault: str
    cells: list[str]


def width_fault(cells: int, columns: int) -> str:
    """Return the fault of a record by its number of cells, or '' where it fits."""
    if cells == columns:
        return ""
    return "too_many_fields" if cells > columns else "too_few_fields"
