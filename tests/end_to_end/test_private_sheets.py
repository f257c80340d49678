"""A value planted in one clinician's rows is in no output of another clinician's sheet.

The demo's last year is loaded with one clinician's rows carrying values that occur nowhere
else: a code, keys, lengths, an offset, and an adverse event.
"""

import csv
import re
import shutil
import subprocess

import pytest

from folders import DEMO
from lengthwise.cli import main
from lengthwise.folder import AuditFolder
from lengthwise.report.documents import CLINICIANS, KINDS
from lengthwise.report.pack import Part, make
from lengthwise.report.run_data import load_run
from lengthwise.report.snapshot import write_snapshot

FIRST_MONTH = "2025-07"
OTHER, OWN, PLANTED = "C02", "C01", "C0PLANT"
TREATMENT, PATIENT = "T99731", "P99731"
# Lengths and an offset that no other row has, and what is worked out from them.
VALUES = (PLANTED, TREATMENT, PATIENT, "29.37", "8.36", "9.87")
ROWS = {
    "treatments": [{"treatment_id": TREATMENT, "patient_id": PATIENT, "clinician_id": PLANTED,
                    "site_id": "S1", "tooth": "46", "period": "2026-06",
                    "treatment_type": "primary"}],
    "canals": [{"treatment_id": TREATMENT, "canal": "D", "confirmed_length_mm": "29.37"}],
    "readings": [
        {"treatment_id": TREATMENT, "canal": "D", "method": method, "stage": "initial",
         "replicate": "1", "length_mm": length}
        for method, length in (("electronic", "29.37"), ("film_file", "21.01"))
    ],
    "fills": [{"treatment_id": TREATMENT, "canal": "D", "fill_offset_mm": "9.87",
               "core_beyond": "yes", "film_quality": "A"}],
    "incidents": [{"treatment_id": TREATMENT, "canal": "D", "kind": "perforation",
                   "days_from_treatment": "0"}],
}  # fmt: skip


def write_exports(folder):
    """Copy the demo's last year, one clinician renamed and given the planted rows."""
    kept = set()
    for name in ("treatments", "canals", "readings", "fills", "follow_ups", "incidents"):
        with (DEMO / "exports" / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
            reader = csv.DictReader(handle)
            rows, header = list(reader), reader.fieldnames
        if name == "treatments":
            kept = {row["treatment_id"] for row in rows if row["period"][:7] >= FIRST_MONTH}
        rows = [row for row in rows if row["treatment_id"] in kept]
        for row in rows:
            for column in ("clinician_id", "reader_id", "observer_id"):
                row.update({column: PLANTED} if row.get(column) == OTHER else {})
        with (folder.exports / f"{name}.csv").open("w", encoding="utf-8", newline="") as handle:
            writer = csv.DictWriter(handle, header, lineterminator="\n")
            writer.writeheader()
            writer.writerows([*rows, *ROWS.get(name, [])])


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    root = tmp_path_factory.mktemp("planted") / "audit"
    assert main(["--quiet", "new", str(root)]) == 0
    shutil.copyfile(DEMO / "folder" / "settings.toml", root / "settings.toml")
    write_exports(AuditFolder(root))
    # Loading the exports and analysing them must set the planted rows neither aside nor apart.
    assert main(["--quiet", "ingest", "--folder", str(root)]) == 0
    assert main(["--quiet", "analyse", "2026-Q2", "--folder", str(root)]) == 0
    return AuditFolder(root)


@pytest.fixture(scope="module")
def run_data(folder):
    return load_run(folder.database)


def sheet_of(run_data, folder, code):
    return next(item for item in KINDS["clinician"].documents(run_data, folder)
                if item.subject == code)  # fmt: skip


@pytest.fixture(scope="module")
def texts(folder, run_data, tmp_path_factory):
    """Return the text of everything that OWN's sheet is made from and made into."""
    sheet = sheet_of(run_data, folder, OWN)
    snapshot = write_snapshot(sheet.run_data, tmp_path_factory.mktemp("snap") / "run.json")
    part = Part(KINDS["clinician"], ("html", "pdf"), (sheet,))
    made = make(run_data, folder, [part], engine="embedded", processes=1, progress=str,
                is_whole=False)  # fmt: skip
    found = {"snapshot": snapshot.read_text(encoding="utf-8")}
    for path in (made.place / CLINICIANS).iterdir():
        found[path.suffix] = path.read_bytes().decode("latin-1")
        if path.suffix == ".pdf" and (program := shutil.which("pdftotext")):
            done = subprocess.run([program, "-raw", path, "-"], capture_output=True, check=True)
            found["pdf text"] = done.stdout.decode()
    return found


def test_the_planted_rows_reach_the_analysis_and_their_own_sheet(run_data, folder, tmp_path):
    listed = run_data.lists[run_data.lists["treatment_id"] == TREATMENT]
    assert {"incidents", "discordant_canals"} <= set(listed["list_name"])
    path = write_snapshot(sheet_of(run_data, folder, PLANTED).run_data, tmp_path / "run.json")
    text = path.read_text(encoding="utf-8")
    assert TREATMENT in text
    assert "8.36" in text
    assert PLANTED not in text


def test_no_output_of_another_sheet_holds_a_planted_value(texts):
    assert {"snapshot", ".html", ".pdf", ".json"} <= set(texts)
    assert [(name, value) for name, text in texts.items() for value in VALUES
            if re.search(rf"(?<![\d.]){re.escape(value)}(?!\d)", text)] == []  # fmt: skip


def test_the_sheet_is_not_empty_and_shows_peers_without_a_code(texts):
    page = re.sub(r"<[^>]+>", " ", texts[".html"])
    assert "Next step:" in page
    assert "colleagues from" in page
    assert not re.search(r"\bC0[1-7]\b", page)
