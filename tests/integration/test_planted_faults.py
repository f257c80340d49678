"""Every planted fault of the demo gets exactly its codes, and nothing else gets any."""

import csv

import pytest

from folders import DEMO, demo_copy
from lengthwise.intake import check_files, ingest_files, known_codes


@pytest.fixture(scope="module")
def judged(tmp_path_factory):
    return check_files(demo_copy(tmp_path_factory.mktemp("demo")), [], {})


@pytest.fixture(scope="module")
def planted():
    with (DEMO / "planted_faults.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def test_findings_equal_the_planted_faults(judged, planted):
    found = set(
        zip(
            judged.findings["file"],
            judged.findings["row_number"].astype(int),
            judged.findings["code"],
            strict=True,
        )
    )
    wanted = {(row["file"].rpartition("/")[2], int(row["row"]), row["code"]) for row in planted}
    assert found - wanted == set()
    assert wanted - found == set()


def test_no_clean_row_is_quarantined(judged, planted):
    bad = {
        (row["file"].rpartition("/")[2], row["row"])
        for row in planted
        if row["severity"] == "error"
    }
    assert judged.rows_quarantined == len(bad)


def test_severities_are_those_of_the_catalogue(judged, planted):
    codes = known_codes()
    for row in planted:
        assert codes[row["code"]].severity == row["severity"]


def test_accepted_and_quarantined_rows_add_up(tmp_path):
    result = ingest_files(demo_copy(tmp_path), [], {})
    for item in result.judged:
        lines = (item.source.path).read_text(encoding="utf-8").count("\n") - 1
        assert item.rows_accepted + item.rows_quarantined == item.rows_read == lines
