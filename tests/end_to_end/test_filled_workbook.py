"""The workbook of a new folder, filled in by a spreadsheet program and saved in three forms."""

import csv
import io
import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.utils import get_column_letter

from folders import SMALL, small_folder, stored_records
from lengthwise.intake import check_files, ingest_files
from lengthwise.run import new_folder

OFFICE = shutil.which("soffice")
SCRIPT = Path(__file__).with_name("office_fill.py")
FILLS = "treatment_id,canal,fill_offset_mm,fill_level\nT1,MB,-0.5,\nT1,P,,beyond\n"
ROWS = {**SMALL, "fills": FILLS}


def bridge():
    """Return the Python that can drive the spreadsheet program, or None.

    The system's where its package brings the bridge, else the one beside the program.
    """
    beside = Path(OFFICE).resolve().with_name("python") if OFFICE else None
    for name in (shutil.which("python3", path=os.defpath), beside):
        if (
            name is not None
            and Path(name).exists()
            and not subprocess.run([name, "-c", "import uno"], capture_output=True).returncode
        ):
            return str(name)
    return None


pytestmark = [
    pytest.mark.office,
    pytest.mark.xdist_group("spreadsheet"),
    pytest.mark.skipif(OFFICE is None, reason="no spreadsheet program on this machine"),
    pytest.mark.skipif(bridge() is None, reason="no Python that can drive the program"),
]


def typed_cells(workbook):
    """Return for each sheet what is typed into which cell."""
    book = load_workbook(workbook)
    cells = {}
    for name, text in ROWS.items():
        places = {cell.value: get_column_letter(cell.column) for cell in book[name][1]}
        cells[name] = [
            [f"{places[field]}{row}", value]
            for row, record in enumerate(csv.DictReader(io.StringIO(text)), start=2)
            for field, value in record.items()
            if value
        ]
    return cells


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    """Return the folder with the three forms of the workbook that was filled in."""
    target = tmp_path_factory.mktemp("filled")
    workbook = new_folder(target / "audit").root / "templates" / "audit-workbook.xlsx"
    cells = target / "cells.json"
    cells.write_text(json.dumps(typed_cells(workbook)), encoding="utf-8")
    subprocess.run(
        [bridge(), str(SCRIPT), OFFICE, str(workbook), str(cells), str(target)],
        check=True, capture_output=True, timeout=300,
    )  # fmt: skip
    return target


@pytest.mark.parametrize("form", ["xlsx", "ods", "csv"])
def test_what_was_typed_loads_alike_in_three_forms(tmp_path, filled, form):
    plain = small_folder(tmp_path / "plain", fills=FILLS)
    ingest_files(plain, [], {})
    folder = new_folder(tmp_path / "audit")
    if form == "csv":
        for name in ROWS:
            shutil.copyfile(filled / f"filled-{name}.csv", folder.exports / f"{name}.csv")
    else:
        shutil.copyfile(filled / f"filled.{form}", folder.exports / f"filled.{form}")
    assert ingest_files(folder, [], {}).findings.empty
    found = stored_records(folder, ROWS)
    assert found == stored_records(plain, ROWS)
    assert sum(map(len, found.values())) == 10
    assert check_files(folder, [], {}).findings.empty


def test_the_guards_are_still_there_after_saving(filled):
    for name in ROWS:
        sheet = load_workbook(filled / "filled.xlsx")[name]
        assert sheet.freeze_panes == "A2"
        assert len(sheet.data_validations.dataValidation) >= 5
