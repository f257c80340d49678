"""The handbook shows every case and every figure of coverage, and hides none."""

import csv

import pytest

from handbook_tables import TABLES, coverage_summary, joined_coverage
from lengthwise.report.sections import handbook
from lengthwise.report.sections.methods import METHODS


def _rows(name: str) -> list[dict[str, str]]:
    with (TABLES / name).open(encoding="utf-8", newline="") as source:
        return list(csv.DictReader(source))


@pytest.mark.parametrize(
    ("name", "found"),
    [("coverage.csv", joined_coverage), ("coverage_summary.csv", coverage_summary)],
)
def test_shipped_coverage_is_what_the_studies_found(name, found):
    with (TABLES / name).open(encoding="utf-8", newline="") as source:
        assert list(csv.reader(source)) == found()


def test_every_method_of_every_study_is_shown_with_all_that_lies_outside():
    shown = handbook.coverage()
    rows = _rows("coverage.csv")
    outside = sum(row["within_93_97"] == "no" for row in rows)
    assert f"{outside} lie outside 93 to 97" in shown
    tables = [line.split("|") for line in shown.splitlines() if line.startswith("|")]
    body = [[cell.strip() for cell in line[1:-1]] for line in tables]
    figures = [cells for cells in body if cells[2].isdigit()]
    pairs = {(row["study"], row["method"], row["quantity"]) for row in rows}
    assert len(figures) == len(pairs)
    assert sum(int(cells[2]) for cells in figures) == len(rows)
    assert sum(int(cells[4] or 0) for cells in figures) == outside


def test_every_range_outside_says_where_that_is_said():
    for row in _rows("coverage_summary.csv"):
        own = [
            one for one in _rows("coverage.csv")
            if all(one[key] == row[key] for key in ("study", "method", "quantity"))
        ]  # fmt: skip
        assert bool(row["told"]) == any(one["within_93_97"] == "no" for one in own), row


def test_every_case_is_named_with_its_source_or_its_reason():
    shown = handbook.check_values()
    for row in _rows("check_values.csv"):
        assert f"| {row['case']} |" in shown
    assert "not met" not in shown


@pytest.mark.parametrize("name", [*METHODS])
def test_every_method_id_stands_in_the_handbook(name):
    assert f"| {name.replace('_', chr(92) + '_')} |" in handbook.methods_of_the_product()
