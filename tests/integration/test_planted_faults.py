"""Every planted fault of the demo gets exactly its codes, and no other row is called faulty."""

import csv
from collections import defaultdict

import pytest

from folders import DEMO, demo_copy
from lengthwise.intake import check_files, ingest_files, known_codes
from lengthwise.store.database import connect

# True differences between methods beyond the review threshold; every other code is planted only.
FAR_APART = "reading.methods_far_apart"


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
    assert {item for item in found - wanted if item[2] != FAR_APART} == set()
    assert wanted - found == set()


def furthest(readings, review_mm=1.0):
    """Return the rows of one canal that lie furthest from the mean of the others, if too far.

    Of equal readings the first; where the shortest and the longest are as far, both.
    """
    if len(readings) < 2:
        return set()
    total, count = sum(length for _, length in readings), len(readings)
    apart = {
        row: round(abs(length - (total - length) / (count - 1)), 3) for row, length in readings
    }
    named = {}
    for row, length in sorted(readings):
        if apart[row] == max(apart.values()) > review_mm:
            named.setdefault(length, row)
    return set(named.values())


def test_clean_readings_are_called_far_apart_only_where_they_truly_are(tmp_path):
    folder = demo_copy(tmp_path)
    findings = ingest_files(folder, [], {}).findings
    found = set(findings.loc[findings["code"] == FAR_APART, "row_number"])
    connection = connect(folder.database, read_only=True)
    rows = connection.execute(
        "select treatment_id, canal, row_number, length_mm from record.readings"
    ).fetchall()
    connection.close()
    canals = defaultdict(list)
    for treatment, canal, *reading in rows:
        canals[treatment, canal].append(reading)
    swapped = {("T01851", "MB"), ("T01851", "P")}
    wanted = set().union(*(furthest(own) for key, own in canals.items() if key not in swapped))
    assert found == wanted
    assert len(found) == 2_093


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
