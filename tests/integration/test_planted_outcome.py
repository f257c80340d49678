"""The odds planted in the demo lie inside the 95 % intervals of the adjusted model."""

import tomllib

import pytest

from folders import DEMO, demo_copy
from lengthwise.intake import ingest_files
from lengthwise.report.run_data import load_run
from lengthwise.run import analyse_period


@pytest.fixture(scope="module")
def run_data(tmp_path_factory):
    folder = demo_copy(tmp_path_factory.mktemp("demo"))
    ingest_files(folder, [], {})
    return load_run(folder.database, analyse_period(folder, "2026-Q2"))


@pytest.fixture(scope="module")
def truth():
    return tomllib.loads((DEMO / "truth.toml").read_text(encoding="utf-8"))["outcome"]


@pytest.mark.parametrize("term", ["short", "beyond", "lesion", "molar", "retreatment"])
@pytest.mark.parametrize("analysis", ["C2", "C10"])
def test_planted_odds_lie_inside_the_interval(run_data, truth, term, analysis):
    row = run_data.one(analysis=analysis, measure="odds_ratio", subject=term)
    if analysis == "C10" and term not in ("short", "beyond"):
        assert row is None, "imputation is shown for the levels only"
        return
    assert row["lower"] <= truth[f"{term}_odds_ratio"]["size"] <= row["upper"]


def test_every_analysis_left_rows(run_data):
    wanted = {"C1", "C2", "C3", "C4", "C5", "C6", "C7", "C8", "C9", "C10"}
    assert wanted <= set(run_data.estimates["analysis"])


def test_result_ids_are_unique(run_data):
    assert run_data.estimates["result_id"].is_unique
