"""The workbook of a new folder, filled in, loads like the same rows as CSV."""

import csv
import io
import shutil
import subprocess
import zipfile

import pytest
from openpyxl import load_workbook

from folders import SMALL, small_folder, stored_records
from lengthwise.dictionary import all_schemas
from lengthwise.errors import IdentifierError, UnreadableError
from lengthwise.intake import check_files, ingest_files
from lengthwise.run import new_folder

OFFICE = shutil.which("soffice")
NUMBERS = ("length_mm", "confirmed_length_mm")
needs_office = pytest.mark.skipif(OFFICE is None, reason="no spreadsheet program here")


def filled(folder, changed=()):
    """Fill the folder's own workbook in with the small tables; return its path."""
    path = folder.root / "filled.xlsx"
    book = load_workbook(folder.root / "templates" / "audit-workbook.xlsx")
    for name, text in SMALL.items():
        sheet = book[name]
        places = {cell.value: cell.column for cell in sheet[1]}
        for row, record in enumerate(csv.DictReader(io.StringIO(text)), start=2):
            for field, value in record.items():
                own = float(value) if field in NUMBERS else value
                sheet.cell(row=row, column=places[field], value=own)
    for sheet, cell, value in changed:
        book[sheet][cell] = value
    book.save(path)
    return path


@pytest.fixture
def plain(tmp_path):
    folder = small_folder(tmp_path / "plain")
    ingest_files(folder, [], {})
    return stored_records(folder, SMALL)


def test_filled_workbook_loads_like_csv_and_only_once(tmp_path, plain):
    folder = new_folder(tmp_path / "audit")
    path = filled(folder)
    assert ingest_files(folder, [path], {}).findings.empty
    assert stored_records(folder, SMALL) == plain
    assert ingest_files(folder, [path], {}).load is None


def test_a_workbook_in_the_exports_is_found_and_its_lock_file_is_not(tmp_path, plain):
    folder = new_folder(tmp_path / "audit")
    shutil.move(filled(folder), folder.exports / "filled.xlsx")
    (folder.exports / "~$filled.xlsx").write_bytes(b"lock")
    ingest_files(folder, [], {})
    assert stored_records(folder, SMALL) == plain


def test_formula_errors_are_findings_with_the_row_of_the_sheet(tmp_path):
    folder = new_folder(tmp_path / "audit")
    lengths = [cell.value for cell in load_workbook(filled(folder))["readings"][1]]
    column = chr(ord("A") + lengths.index("length_mm"))
    path = filled(
        folder,
        [
            ("readings", f"{column}2", "#DIV/0!"),
            ("readings", f"{column}3", "=20+1"),
            ("readings", "A7", "T1"),
            ("readings", "B7", "MB"),
        ],
    )
    found = check_files(folder, [path], {}).findings
    faults = {(row.row_number, row.code) for row in found.itertuples()}
    assert (1, "reading.length_not_a_number") in faults
    assert (2, "reading.length_not_a_number") in faults  # never calculated, so no value
    # Two rows of the sheet are empty before it: the number is still the sheet's.
    assert (6, "reading.length_missing") in faults


def test_every_field_has_its_guard(tmp_path):
    folder = new_folder(tmp_path / "audit")
    book = load_workbook(folder.root / "templates" / "audit-workbook.xlsx")
    for export in all_schemas().values():
        sheet = book[export.name]
        assert sheet.freeze_panes == "A2"
        assert [cell.value for cell in sheet[1]] == [item.name for item in export.fields]
        rules = sheet.data_validations.dataValidation
        assert len(rules) == len(export.fields)
        for item, rule in zip(export.fields, rules, strict=True):
            assert rule.prompt
            assert item.unit in rule.prompt
            if item.enum:
                name, _, cells = rule.formula1.partition("!")
                allowed = [cell.value for (cell,) in book[name][cells.replace("$", "")]]
                assert allowed == list(item.enum)
            assert rule.showInputMessage
            assert rule.showErrorMessage
            assert rule.promptTitle.endswith("*") == item.required
            kinds = {"number": "decimal", "integer": "whole", "date": "date", "boolean": "list"}
            if item.type in kinds:
                assert rule.type == kinds[item.type]
            if item.type == "boolean":
                assert rule.formula1 == '"yes,no"'
            if item.minimum is not None and item.maximum is not None:
                assert (float(rule.formula1), float(rule.formula2)) == (
                    item.minimum,
                    item.maximum,
                )
    assert book.sheetnames[0] == "how to fill in"
    assert "never write a name" in book["how to fill in"]["A4"].value.lower()


def test_identifiers_in_a_sheet_are_refused(tmp_path):
    folder = new_folder(tmp_path / "audit")
    path = filled(folder, [("treatments", "B2", "qx@example.org")])
    with pytest.raises(IdentifierError, match=r"treatments \(filled.xlsx\) column 2"):
        ingest_files(folder, [path], {})


@pytest.mark.parametrize("suffix", [".xlsx", ".ods"])
@pytest.mark.parametrize("content", ["text", "empty", "other archive"])
def test_what_is_no_workbook_is_refused_plainly(tmp_path, suffix, content):
    folder = new_folder(tmp_path / "audit")
    path = folder.exports / f"book{suffix}"
    path.write_bytes(b"" if content == "empty" else b"no workbook")
    if content == "other archive":
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr("a.txt", "nothing")
    with pytest.raises(UnreadableError, match="not a workbook that can be read"):
        check_files(folder, [], {})


def test_a_damaged_workbook_is_refused_plainly_wherever_it_is_damaged(tmp_path):
    folder = new_folder(tmp_path / "audit")
    data = filled(folder).read_bytes()
    path = folder.exports / "book.xlsx"
    with zipfile.ZipFile(folder.root / "filled.xlsx") as archive:
        sheets = [item for item in archive.infolist() if "worksheets" in item.filename]
    for item in sheets:
        middle = item.header_offset + 30 + len(item.filename) + item.compress_size // 2
        path.write_bytes(data[:middle] + bytes(8) + data[middle + 8 :])
        with pytest.raises(UnreadableError, match="not a workbook that can be read"):
            check_files(folder, [path], {})


def saved_by_office(path, target, form):
    profile = target / "profile"
    subprocess.run(
        [OFFICE, f"-env:UserInstallation=file://{profile}", "--headless", "--convert-to", form,
         "--outdir", str(target), str(path)],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip


@pytest.mark.office
@needs_office
@pytest.mark.parametrize("form", ["xlsx", "ods", "csv"])
def test_a_spreadsheet_program_saves_it_in_three_forms_that_load_alike(tmp_path, plain, form):
    folder = new_folder(tmp_path / "audit")
    target = tmp_path / "saved"
    target.mkdir()
    # Token 12 = -1 writes every sheet of the workbook to its own file.
    options = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
    saved_by_office(filled(folder), target, options if form == "csv" else form)
    if form == "csv":
        paths = [
            shutil.copyfile(target / f"filled-{name}.csv", target / f"{name}.csv")
            for name in SMALL
        ]
    else:
        paths = [target / f"filled.{form}"]
    assert ingest_files(folder, paths, {}).findings.empty
    assert stored_records(folder, SMALL) == plain
