"""Writes the workbook of a new audit folder: one sheet per export, guarded by the dictionary."""

from pathlib import Path
from typing import Any

from lengthwise.dictionary import Field, Schema
from lengthwise.ingest.workbook import INSTRUCTIONS

_ROWS = 5_000  # rows below the header that carry drop-downs and checks
_LISTS = "lists"
_TEXT = "@"
_FORMATS = {"date": "yyyy-mm-dd", "string": _TEXT, "boolean": _TEXT}
_HOW = (
    "How to fill in this workbook",
    "1. One sheet per export. Fill in the sheets you have; leave the others empty.",
    "2. Treatments: one row per treated tooth. Canals: one row per canal. Readings: one row per "
    "length read. Fills: one row per filled canal and reader. Follow-ups: one row per review.",
    "3. Use random codes for patients and clinicians. Never write a name, a date of birth, a "
    "record number or a remark: the program refuses such a file.",
    "4. Do not change the first row. Columns with a star in their message are required.",
    "5. Lengths are in mm from the reference point. Filling offset: negative is short of the "
    "radiographic end of the root, positive is beyond it. Where the level was read in words only, "
    "leave the offset empty and choose the filling level in words.",
    "6. Leave a cell empty when the value was not recorded. Write not_applicable or unreadable "
    "when that is the reason.",
    "7. Save the file into the folder exports, as .xlsx or .ods, then run: lengthwise check",
    "Cell validation guards typing only: what is pasted is judged when the file is checked.",
)


def _message(item: Field) -> str:
    limits = [f"{limit:g}" for limit in (item.minimum, item.maximum) if limit is not None]
    parts = [item.description, f"Unit: {item.unit}." if item.unit else ""]
    parts.append(f"Allowed: {' to '.join(limits)}." if len(limits) == 2 else "")
    return " ".join(filter(None, parts))[:250]  # the file format holds 255 characters


def _limits(item: Field, kind: str) -> dict[str, Any]:
    low, high = item.minimum, item.maximum
    if low is not None and high is not None:
        return {
            "type": kind,
            "operator": "between",
            "formula1": f"{low:g}",
            "formula2": f"{high:g}",
        }
    if high is not None:
        return {"type": kind, "operator": "lessThanOrEqual", "formula1": f"{high:g}"}
    return {"type": kind, "operator": "greaterThanOrEqual", "formula1": f"{low or 0:g}"}


def _rule(item: Field, list_range: str) -> dict[str, Any]:
    """Return the validation of a field; a field without a rule still has its message."""
    if item.type == "boolean":
        return {"type": "list", "formula1": '"yes,no"'}
    if item.enum:
        return {"type": "list", "formula1": list_range}
    if item.type == "date":
        return {"type": "date", "operator": "greaterThan", "formula1": "DATE(1990,1,1)"}
    if item.type in ("number", "integer"):
        return _limits(item, "decimal" if item.type == "number" else "whole")
    return {}


class _Lists:
    """The hidden sheet with the allowed values, one column per list."""

    def __init__(self, book: Any) -> None:
        self.sheet = book.create_sheet(_LISTS)
        self.sheet.sheet_state = "hidden"
        self.columns = 0

    def add(self, values: tuple[str, ...]) -> str:
        from openpyxl.utils import get_column_letter

        self.columns += 1
        for row, value in enumerate(values, start=1):
            cell = self.sheet.cell(row=row, column=self.columns, value=value)
            cell.number_format = _TEXT
        letter = get_column_letter(self.columns)
        return f"{_LISTS}!${letter}$1:${letter}${len(values)}"


def _add_column(sheet: Any, place: int, item: Field, list_range: str) -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    letter = get_column_letter(place)
    header = sheet.cell(row=1, column=place, value=item.name)
    header.font = Font(bold=True)
    sheet.column_dimensions[letter].width = max(12, len(item.name) + 3)
    sheet.column_dimensions[letter].number_format = _FORMATS.get(item.type, "General")
    star = " *" if item.required else ""
    check = DataValidation(
        **_rule(item, list_range), allow_blank=True, showInputMessage=True,
        showErrorMessage=True, promptTitle=f"{item.title}{star}"[:32], prompt=_message(item),
        errorTitle="Not allowed", error="See the message of this column or the data dictionary.",
        errorStyle="warning",
    )  # fmt: skip
    check.add(f"{letter}2:{letter}{_ROWS + 1}")
    sheet.add_data_validation(check)
    if _FORMATS.get(item.type):
        for (cell,) in sheet[f"{letter}2:{letter}201"]:
            cell.number_format = _FORMATS[item.type]


def write_workbook(path: Path, schemas: dict[str, Schema]) -> None:
    """Write the empty workbook."""
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font

    book = Workbook()
    how = book.active
    how.title = INSTRUCTIONS
    how.column_dimensions["A"].width = 100
    for row, line in enumerate(_HOW, start=1):
        cell = how.cell(row=row, column=1, value=line)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.font = Font(bold=row == 1)
    sheets = {export.name: book.create_sheet(export.name) for export in schemas.values()}
    lists = _Lists(book)
    for export in schemas.values():
        sheet = sheets[export.name]
        sheet.freeze_panes = "A2"
        for place, item in enumerate(export.fields, start=1):
            _add_column(sheet, place, item, lists.add(item.enum) if item.enum else "")
    book.save(path)
