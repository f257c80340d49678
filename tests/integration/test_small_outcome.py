"""Folders with hardly any follow-up still get a run, with reasons where numbers would stand."""

import pytest

from folders import small_folder
from lengthwise.intake import ingest_files
from lengthwise.report import sections
from lengthwise.report.run_data import load_run
from lengthwise.run import analyse_period

FILLS = "treatment_id,canal,fill_offset_mm\nT1,MB,-1.0\nT1,P,0.4\nT2,C,-2.6\n"
REVIEWS = (
    "treatment_id,days_from_treatment,imaging,pai,tooth_present\n"
    "T1,30,film,4,yes\nT2,40,film,1,yes\n"
)
TABLES = {
    "no fillings and no reviews": {},
    "fillings without reviews": {"fills": FILLS},
    "reviews too early": {"fills": FILLS, "follow_ups": REVIEWS},
    "no electronic reading": {
        "fills": FILLS,
        "readings": "treatment_id,canal,method,length_mm\nT1,MB,film,20.5\n",
    },
}


@pytest.mark.parametrize("name", TABLES)
def test_a_small_folder_gets_reasons_and_no_crash(name, tmp_path, monkeypatch):
    folder = small_folder(tmp_path / "audit", **TABLES[name])
    ingest_files(folder, [], {})
    run_data = load_run(folder.database, analyse_period(folder, None))
    found = run_data.estimates[run_data.estimates["section"] == "outcome"]
    adjusted = found[found["analysis"] == "C2"]
    assert len(adjusted)
    assert not adjusted["valid"].any()
    assert (adjusted["reason"] != "").all()
    monkeypatch.chdir(tmp_path)
    for shown in (
        sections.outcome_adjusted,
        sections.outcome_chain,
        sections.outcome_follow_up,
    ):
        assert shown(run_data).strip()
