"""The list for the front desk: who is due by hand-made reviews, and what it holds."""

import csv
from pathlib import Path

import pytest

from folders import folder_with
from lengthwise import run
from lengthwise.analyse.due import reviews_due
from lengthwise.cli import main
from lengthwise.folder import AuditFolder
from lengthwise.report.run_data import RunData
from lengthwise.settings import load_settings
from lengthwise.statistics.process.recall import recall_rate
from lengthwise.store.database import connect
from lengthwise.store.results import mart

# One tooth for each case of the rule; by the end of 2026-06.
TREATMENTS = """treatment_id,patient_id,clinician_id,tooth,period
T01,P01,C01,11,2025-07
T02,P02,C01,11,2025-06
T03,P03,C01,11,2025-02
T04,P04,C01,11,2024-05
T05,P05,C01,11,2025-01
T06,P06,C01,11,2025-01
T07,P07,C01,11,2024-06
T08,P08,C01,11,2022-01
T09,P09,C01,11,2024-06
T10,P10,C01,11,2025-Q2
T11,P11,C01,11,2025-01
T12,P12,C01,11,2025-05
"""
FOLLOW_UPS = """treatment_id,days_from_treatment,imaging,pai,tooth_present,loss_reason,function
T05,380,film,1,yes,,yes
T06,200,film,1,yes,,yes
T07,380,film,1,yes,,yes
T08,1500,film,1,yes,,yes
T09,300,,,no,endodontic,
T11,300,film,3,yes,,yes
"""
WANTED = {
    "T02": ("due", "first review", "2026-06"),
    "T03": ("overdue", "first review", "2026-02"),
    "T04": ("lost for review", "first review", "2025-05"),
    "T06": ("overdue", "first review", "2026-01"),  # seen early only
    "T10": ("due", "first review", "2026-06"),  # a quarter counts from its last day
    "T12": ("due", "first review", "2026-05"),
    "T11": ("overdue", "healing or uncertain", "2026-01"),  # seen early, not after 12 months
}


@pytest.fixture
def folder(tmp_path: Path) -> AuditFolder:
    made = folder_with(tmp_path / "audit", treatments=TREATMENTS, follow_ups=FOLLOW_UPS)
    run.ingest_files(made, [], {})
    return made


def _listed(path: Path) -> dict[str, tuple[str, str, str]]:
    with path.open(encoding="utf-8", newline="") as handle:
        return {
            row["treatment_id"]: (row["state"], row["kind"], row["due_month"])
            for row in csv.DictReader(handle)
        }


def test_every_rule_places_its_tooth(folder: AuditFolder, tmp_path: Path) -> None:
    out = tmp_path / "due.csv"
    run.reviews_due(folder, "2026-06", None, out)
    assert _listed(out) == WANTED


def test_a_later_month_brings_the_yearly_review(folder: AuditFolder, tmp_path: Path) -> None:
    out = tmp_path / "due.csv"
    run.reviews_due(folder, "2027-06", None, out)
    listed = _listed(out)
    assert listed["T07"] == ("overdue", "yearly review", "2026-07")
    assert listed["T01"] == ("overdue", "first review", "2026-07")
    # Four years are over, and a tooth that is lost needs no review.
    assert not {"T08", "T09"} & set(listed)


def test_list_holds_keys_only(folder: AuditFolder, tmp_path: Path) -> None:
    out = tmp_path / "due.csv"
    run.reviews_due(folder, "2026-06", None, out)
    header = out.read_text(encoding="utf-8").splitlines()[0]
    assert header == "treatment_id,patient_id,clinician_id,state,kind,due_month"


def test_recall_is_printed_raw_and_adjusted(folder: AuditFolder, tmp_path: Path) -> None:
    away = tmp_path / "away.csv"
    away.write_text("treatment_id\nT04\nT05\n", encoding="utf-8")
    text = run.reviews_due(folder, "2026-06", away, None)
    # T01 is not due; of the eleven others T05, T07 and T08 were seen, T09 is lost, T04 is away
    # (T05 was seen and stays).
    rate = recall_rate(treated=11, discontinued=1, examined=3, extracted=1)
    assert f"raw: {100 * rate.raw:.1f} in 100 (examined of 11 teeth" in text
    assert f"adjusted: {100 * rate.adjusted:.1f} in 100 (4 examined or lost of 10" in text
    assert "T04" not in text


def test_command_prints_no_key_and_names_a_wrong_month(
    folder: AuditFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--quiet", "due", "--folder", str(folder.root)]) == 0
    shown = capsys.readouterr().out
    # The latest treatments are of 2025-07, so that the quarter ends with September 2025.
    assert "Reviews by the end of 2025-09: " in shown
    assert "T04" not in shown
    assert main(["--quiet", "due", "--folder", str(folder.root), "--by", "2026-Q3"]) == 3
    assert "--by is a month" in capsys.readouterr().err


def test_list_recall_criterion_and_flow_count_one_set_of_teeth(
    demo: AuditFolder, demo_run: RunData
) -> None:
    connection = connect(demo.database)
    try:
        found = reviews_due(connection, load_settings(demo.root), "2026-06", set())
        teeth = mart(connection, "outcomes")
    finally:
        connection.close()
    criterion = demo_run.one(analysis="B1", subject="reviewed", measure="share", period="2026-Q2",
                             stratum_kind="")  # fmt: skip
    flow = demo_run.one(section="flow", subject="teeth_due", period="2024-Q1..2026-Q2")
    assert criterion is not None
    assert flow is not None
    seen = (criterion["numerator"], criterion["denominator"])
    assert seen == (found.recall.numerator, found.recall.denominator)
    assert found.treated == flow["estimate"] == int(teeth["is_due"].sum())
    never_seen = teeth[teeth["is_due"] & (teeth["outcome"] == "not_reviewed")]
    assert set(never_seen["treatment_id"]) <= set(found.teeth["treatment_id"])
    first = found.teeth[found.teeth["kind"] == "first review"]
    assert set(first["treatment_id"]) <= set(never_seen["treatment_id"])
