"""Safety lists: no event falls between two quarters, and the lists come before every count."""

import tomllib

import pytest

from folders import ROOT, folder_with
from lengthwise import run
from lengthwise.folder import AuditFolder
from lengthwise.report.run_data import load_run
from lengthwise.report.sections.safety import safety_lists

TREATMENTS = """treatment_id,patient_id,clinician_id,tooth,period
T1,P1,C01,46,2026-05
T2,P2,C01,36,2026-03
T3,P3,C02,11,2026-01
T4,P4,C02,36,2026-Q1
T5,P5,C02,45,2026-06
T6,P6,C02,34,2026-04
"""
INCIDENTS = """treatment_id,canal,kind,days_from_treatment
T1,,altered_sensation,2
T2,,altered_sensation,25
T3,,separated_instrument,0
T4,,perforation,60
T5,,irrigant_extrusion,
"""
CANALS = "treatment_id,canal\nT1,D\nT5,B\nT6,B\n"
FILLS = """treatment_id,canal,fill_offset_mm,core_beyond,sealer_beyond,film_quality,reader_id,read
T1,D,-1.0,no,yes,A,R1,1
T5,B,-0.5,no,no,A,R1,1
T6,B,1.2,,,N,R1,1
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> AuditFolder:
    made = folder_with(
        tmp_path_factory.mktemp("safety") / "audit", treatments=TREATMENTS,
        canals=CANALS, incidents=INCIDENTS, fills=FILLS,
    )  # fmt: skip
    run.ingest_files(made, [], {})
    run.analyse_period(made, "2026-Q2")
    return made


def test_an_event_is_listed_when_treated_or_first_reported_in_the_quarter(
    folder: AuditFolder,
) -> None:
    found = load_run(folder.database)
    # T2 was filled in March and told of numbness in April; T4 in January to March, told by May.
    assert set(found.listed("altered_sensation")["treatment_id"]) == {"T1", "T2"}
    assert set(found.listed("incidents")["treatment_id"]) == {"T1", "T2", "T4", "T5"}


def test_material_beyond_is_listed_in_lower_posterior_teeth_even_on_a_film_not_rated(
    folder: AuditFolder,
) -> None:
    listed = load_run(folder.database).listed("beyond_lower_posterior")
    assert dict(zip(listed["treatment_id"], listed["detail"], strict=True)) == {
        "T1": "sealer beyond", "T6": "offset beyond",
    }  # fmt: skip
    shown = safety_lists(load_run(folder.database)).replace("\\", "")
    assert "1 case" in shown or "2 cases" in shown


def test_the_lists_stand_before_every_result_of_the_report() -> None:
    source = (ROOT / "reports" / "quarterly_audit.qmd").read_text(encoding="utf-8")
    notice, lists = (
        source.index("sections.safety_notice"),
        source.index("sections.safety_lists"),
    )
    assert notice < source.index("sections.summary")
    for name in (
        "criteria_results",
        "flow",
        "agreement_table",
        "fill_overall",
        "outcome_crude",
    ):
        assert lists < source.index(f"sections.{name}(")


def test_shipped_suggestions_begin_with_a_verb() -> None:
    path = ROOT / "pipeline" / "lengthwise" / "templates" / "criteria.toml"
    items = tomllib.loads(path.read_text(encoding="utf-8"))["criterion"]
    verbs = {
        "Record",
        "Repeat",
        "Reconfirm",
        "Dry",
        "Gauge",
        "Read",
        "Check",
        "Fit",
        "Book",
        "Look",
    }
    assert {item["suggestion"].split()[0] for item in items} <= verbs
    assert all("suggestion" in item for item in items)
