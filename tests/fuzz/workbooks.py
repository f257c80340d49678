"""Workbooks with mutated cells, as a spreadsheet program or its user leaves them."""

import datetime
import io
from pathlib import Path

from fuzz.base_files import MARK, BaseFile
from fuzz.mutations import Random

_CELLS = (
    None, "", " ", True, False, 0, -1, 1e300, 20.5, "20,5", "#DIV/0!", "=1/0", "=A1", "'x",
    datetime.date(2026, 1, 9), datetime.datetime(2026, 1, 9, 12, 30), datetime.time(8, 30), datetime.timedelta(hours=30),
    "x" + MARK, "a\nb", "\u202e" + MARK, "y" * 5_000, "not_recorded",
)  # fmt: skip


def _book(random: Random, base: BaseFile):
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    sheet.title = base.name.removesuffix(".csv")
    sheet.append(base.header)
    for row in base.rows:
        sheet.append(
            [
                float(cell) if "." in cell and cell.replace(".", "").isdigit() else cell
                for cell in row
            ]
        )
    for _ in range(int(random.integers(1, 8))):
        row = int(random.integers(1, len(base.rows) + 6))
        column = int(random.integers(1, len(base.header) + 3))
        sheet.cell(row=row, column=column, value=_CELLS[int(random.integers(len(_CELLS)))])
    if random.random() < 0.3:
        book.create_sheet("notes of our own" if random.random() < 0.5 else "empty").append([])
    if random.random() < 0.2:
        sheet.merge_cells(start_row=2, start_column=1, end_row=4, end_column=2)
    return book


def xlsx(random: Random, base: BaseFile) -> bytes:
    """Return a mutated .xlsx workbook of one export."""
    out = io.BytesIO()
    _book(random, base).save(out)
    data = out.getvalue()
    if random.random() < 0.15:
        at = int(random.integers(len(data)))
        data = data[:at] + bytes([data[at] ^ 255]) + data[at + 1 :]
    return data[: int(random.integers(len(data)))] if random.random() < 0.1 else data


def _ods_cell(value):
    from odf.table import TableCell
    from odf.text import P

    if isinstance(value, bool):
        return TableCell(valuetype="boolean", booleanvalue="true" if value else "false")
    if isinstance(value, int | float):
        return TableCell(valuetype="float", value=value)
    if isinstance(value, datetime.date):
        return TableCell(valuetype="date", datevalue=value.isoformat())
    if value is None:
        return TableCell()
    text = str(value)
    cell = TableCell(
        valuetype="string", **({"formula": "of:" + text} if text[:1] == "=" else {})
    )
    cell.addElement(P(text=text if text[:1] != "=" else ""))
    return cell


def ods(random: Random, base: BaseFile, work: Path) -> bytes:
    """Return a mutated .ods workbook of one export."""
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableRow

    source = _book(random, base)
    document = OpenDocumentSpreadsheet()
    for sheet in source:
        table = Table(name=sheet.title)
        for cells in sheet.iter_rows(values_only=True):
            row = TableRow()
            for value in cells:
                row.addElement(_ods_cell(value))
            table.addElement(row)
        document.spreadsheet.addElement(table)
    path = work / "made.ods"
    document.save(str(path))
    return path.read_bytes()
