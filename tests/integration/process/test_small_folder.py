"""A folder with three canals, and criteria that a practice edits: no crash, clear words."""

from pathlib import Path

import pytest

from folders import small_folder
from lengthwise import run
from lengthwise.errors import SettingsError
from lengthwise.folder import AuditFolder
from lengthwise.report.run_data import load_run
from lengthwise.resources import resource

CRITERIA = resource("pipeline", "lengthwise", "templates", "criteria.toml")
OWN = """
[[criterion]]
id = "own_rule"
statement = "Three methods are recorded before filling"
rationale = "The practice's own"
source = "common practice, no source"
table = "canal_conduct"
denominator = "true"
numerator = "methods >= 3"
direction = "at_least"
target = 0.5
owner = "quality lead"
version = 1
valid_from = "2026-Q1"
"""


@pytest.fixture
def folder(tmp_path: Path) -> AuditFolder:
    made = small_folder(tmp_path / "audit")
    (made.root / "criteria.toml").write_text(
        CRITERIA.read_text(encoding="utf-8"), encoding="utf-8"
    )
    run.ingest_files(made, [], {})
    return made


def test_three_canals_are_analysed_and_every_chart_says_why_not(folder: AuditFolder) -> None:
    run.analyse_period(folder, None)
    rows = load_run(folder.database).select(section="process")
    refused = rows[rows["measure"] == "longest_run"]
    assert len(refused) >= 10
    assert not refused["valid"].any()
    assert refused["reason"].str.startswith("not enough points").all()


def test_a_criterion_added_in_the_file_is_charted_without_code(folder: AuditFolder) -> None:
    path = folder.root / "criteria.toml"
    path.write_text(path.read_text(encoding="utf-8") + OWN, encoding="utf-8")
    run.analyse_period(folder, None)
    found = load_run(folder.database).one(section="process", subject="own_rule", analysis="B2")
    assert found is not None


def test_a_rule_that_cannot_be_followed_names_its_criterion(folder: AuditFolder) -> None:
    path = folder.root / "criteria.toml"
    broken = OWN.replace("methods >= 3", "no_such_column >= 3")
    path.write_text(path.read_text(encoding="utf-8") + broken, encoding="utf-8")
    with pytest.raises(SettingsError, match="own_rule"):
        run.analyse_period(folder, None)
