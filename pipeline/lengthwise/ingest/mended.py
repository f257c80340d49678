"""The form of the files of rows to mend: dictionary headers, and marks that say how values read.

The values keep the decimal mark and date order of the user's own file, so that nothing is
changed but what the user mends; the marks stand in the header.
"""

from pathlib import Path

from lengthwise.ingest.dialect import SEPARATORS, Dialect

FIRST = "_file"
DECIMAL_COMMA = "_decimal_comma"
DATES = {"dmy": "_dates_dmy", "mdy": "_dates_mdy"}
_LONGEST_HEADER = 1 << 14


def marks(decimal: str, date_order: str) -> tuple[str, ...]:
    """Return the header cells that say how the values of a file are written."""
    found = (DECIMAL_COMMA if decimal == "," else "", DATES.get(date_order, ""))
    return tuple(filter(None, found))


def own_form(path: Path) -> Dialect | None:
    """Return how a file of rows to mend is written, or None where a file is no such file.

    A spreadsheet program may have saved it with another separator; its header tells.
    """
    try:
        with path.open("rb") as handle:
            line = handle.readline(_LONGEST_HEADER)
    except OSError:
        return None
    header = line.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "replace").replace('"', "")
    for separator in SEPARATORS.values():
        cells = [cell.strip() for cell in header.split(separator)]
        if cells[0] == FIRST and "_codes" in cells:
            order = next((name for name, mark in DATES.items() if mark in cells), "ymd")
            return Dialect(separator, "," if DECIMAL_COMMA in cells else ".", "utf-8", order)
    return None
