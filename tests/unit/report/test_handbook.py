"""The handbook shows every case and every figure of coverage, and hides none."""

import csv

import pytest

from handbook_tables import TABLES, joined_coverage
from lengthwise.report.sections import handbook
from lengthwise.report.sections.methods import METHODS


def _rows(name: str) -> list[dict[str, str]]:
    with (TABLES / name).open(encoding="utf-8", newline="") as source:
        return list(csv.DictReader(source))


def test_shipped_coverage_is_what_the_studies_found():
    with (TABLES / "coverage.csv").open(encoding="utf-8", newline="") as source:
        assert list(csv.reader(source)) == joined_coverage()


def test_every_figure_of_coverage_is_shown_and_those_outside_are_marked():
    shown = handbook.coverage()
    rows = _rows("coverage.csv")
    outside = [row for row in rows if row["within_93_97"] == "no"]
    cells = [cell.strip() for line in shown.splitlines() for cell in line.split("|")]
    marked = [cell for cell in cells if cell.startswith("\\(") and cell.endswith("\\)")]
    assert len(marked) == len(outside) > 0
    assert f"{len(outside)} lie outside 93 to 97" in shown


def test_every_case_is_named_with_its_source_or_its_reason():
    shown = handbook.check_values()
    for row in _rows("check_values.csv"):
        assert f"| {row['case']} |" in shown
    assert "not met" not in shown


@pytest.mark.parametrize("name", [*METHODS])
def test_every_method_id_stands_in_the_handbook(name):
    assert f"| {name.replace('_', chr(92) + '_')} |" in handbook.methods_of_the_product()
