"""From every number of the demo back to its definition, its SQL, its cases and its rows."""

import csv
import re
from dataclasses import replace

import pandas as pd
import pytest

from lengthwise.cli import main
from lengthwise.explain.answer import Counts, lines_of, ranges
from lengthwise.explain.choose import criterion_of, population_of
from lengthwise.explain.definitions import is_defined
from lengthwise.explaining import counts_of, settings_of, tables_of, with_versions
from lengthwise.report.clinician_key import read_key
from lengthwise.report.run_data import load_run
from lengthwise.resources import resource
from lengthwise.settings import Settings, load_settings
from lengthwise.store.database import connect

QUARTER = "2026-Q2"
pytestmark = pytest.mark.xdist_group("demo")


@pytest.fixture(scope="module")
def run_data(whole_demo):
    return load_run(whole_demo.folder.database)


@pytest.fixture(scope="module")
def answers(whole_demo, run_data):
    """Return row, cases, counts and lines of every stored number."""
    settings = settings_of(run_data)
    counted: dict[str, Counts] = {}
    found = []
    with tables_of(whole_demo.folder, run_data, settings) as connection:
        for _, row in run_data.estimates.iterrows():
            population = population_of(row.to_dict(), settings, QUARTER)
            item = criterion_of(row.to_dict(), settings, QUARTER)
            key = repr((population.table, population.count, population.steps,
                        population.numerator))  # fmt: skip
            if key not in counted:
                counted[key] = counts_of(connection, population, with_rows=False)
            lines = lines_of(run_data, row, population, counted[key], item, "")
            found.append((row, population, counted[key], lines))
    return found


def ask(demo, capsys, *arguments):
    capsys.readouterr()
    code = main(["--quiet", "explain", *arguments, "--folder", str(demo.folder.root)])
    said = capsys.readouterr()
    return code, said.out if code == 0 else said.err


def test_every_number_has_words_of_its_own(run_data):
    pairs = set(zip(run_data.estimates["analysis"], run_data.estimates["measure"], strict=True))
    assert sorted(pair for pair in pairs if not is_defined(*pair)) == []


def test_every_number_is_answered_with_definition_counts_sql_settings_and_run(answers):
    assert len(answers) > 2500
    for row, _, _, lines in answers:
        text = "\n".join(lines)
        assert lines[0] == row["result_id"]
        for part in ("Meaning:", "Value:", "Method:", "Counts by step:", "SQL of the counts:",
                     "Rows behind it", "Run:        2026-Q2-"):  # fmt: skip
            assert part in text, row["result_id"]


def test_the_sql_that_is_shown_exists_as_a_file(answers):
    shown = {
        name
        for _, _, _, lines in answers
        for line in lines
        if line.startswith(("SQL of the table", "It is built from"))
        for name in re.findall(r"sql/\w+/\w+\.sql", line)
    }
    assert len(shown) >= 15
    assert all(resource(*name.split("/")).is_file() for name in shown)


def test_counted_again_the_cases_give_the_stored_shares_and_counts(answers):
    checked = 0
    for row, population, counts, _ in answers:
        if row["analysis"] == "flow":
            assert counts.cases == row["numerator"], row["result_id"]
        elif population.numerator is not None and pd.notna(row["denominator"]):
            stored = (row["numerator"], row["denominator"])
            assert (counts.numerator, counts.cases) == stored, row["result_id"]
        else:
            continue
        checked += 1
    assert checked > 1100


def test_rows_are_those_of_the_files_and_nothing_but_numbers(whole_demo, capsys, tmp_path):
    path = tmp_path / "rows.csv"
    code, said = ask(whole_demo, capsys, "B1.fill_within.2026-Q2.share", "--rows", str(path))
    assert code == 0
    with path.open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    named = {(row["file"], int(row["row_number"])) for row in rows}
    exports = whole_demo.folder.exports
    with (exports / "treatments.csv").open(encoding="utf-8", newline="") as handle:
        treatments = list(csv.DictReader(handle))
    picked = [treatments[number - 1] for name, number in named if name == "treatments.csv"]
    assert {item["period"][:7] for item in picked} <= {
        "2026-04",
        "2026-05",
        "2026-06",
        "2026-Q2",
    }
    connection = connect(whole_demo.folder.database, read_only=True)
    expected = connection.execute(
        "select count(distinct treatment_id) from marts.fills "
        "where quarter = '2026-Q2' and level <> 'not_assessable'"
    ).fetchone()[0]
    connection.close()
    assert len(picked) == expected
    assert not re.search(r"\bT0\d{4}\b|\bP0\d{3}\b", said)


def test_the_id_on_a_sheet_leads_to_the_clinicians_number(whole_demo, capsys):
    slug = read_key(whole_demo.place / "internal" / "clinician-key.csv")["C03"]
    name = f"B5.fill_within.2025-Q3--2026-Q2.share.clinician-{slug}"
    code, said = ask(whole_demo, capsys, name)
    assert code == 0
    assert said.startswith("B5.fill_within.2025-Q3--2026-Q2.share.clinician-C03")
    assert "Counted again, they give the stored number." in said
    code, said = ask(whole_demo, capsys, f"B5.fill_within.share.clinician-{'0' * 16}")
    assert (code, "no sheet has the number" in said) == (6, True)


def test_a_number_is_explained_by_the_version_of_its_criterion_that_held_then():
    rule = {"id": "gauged", "table": "canal_conduct", "direction": "at_least"}
    early = rule | {"version": 1, "valid_from": "2024-Q1", "target": 0.8,
                    "numerator": "is_apex_gauged", "denominator": "true"}  # fmt: skip
    late = early | {"version": 2, "valid_from": "2026-Q1", "denominator": "methods >= 2"}
    settings = Settings(criteria=(early, late))
    row = {"section": "criteria", "analysis": "B1", "subject": "gauged", "measure": "share",
           "scope": "practice", "stratum_kind": "quarter", "stratum": "2025-Q4",
           "period": "2025-Q4", "reference": ""}  # fmt: skip
    assert criterion_of(row, settings, QUARTER)["version"] == 1
    now = row | {"stratum_kind": "", "stratum": "", "period": QUARTER}
    assert criterion_of(now, settings, QUARTER)["version"] == 2
    assert "methods >= 2" in " ".join(
        step.condition for step in population_of(now, settings, QUARTER).steps
    )
    lost = population_of(row | {"stratum": "2023-Q4"}, settings, QUARTER)
    assert "cannot be counted again" in lost.note
    assert lost.exports == ()


def test_a_pattern_lists_what_fits(whole_demo, capsys):
    code, said = ask(whole_demo, capsys, "A6.film.*.share_within_0_5")
    assert code == 0
    assert "results fit; name one of them:" in said
    assert "A6.film.confirmed.2024-Q1--2026-Q2.share_within_0_5" in said


def test_an_unknown_id_names_near_ones(whole_demo, capsys):
    code, said = ask(whole_demo, capsys, "B1.fill_wihtin.2026-Q2.share")
    assert code == 6
    assert "near are: B1.fill_within.2026-Q2.share" in said


def test_stored_settings_are_read_back_as_they_were(whole_demo, run_data):
    assert settings_of(run_data) == load_settings(whole_demo.folder.root)


def test_an_earlier_version_of_a_criterion_comes_from_the_folder(whole_demo, run_data):
    stored = settings_of(run_data)
    kept = [item for item in stored.criteria if item["id"] != "apex_gauged"]
    found = with_versions(replace(stored, criteria=tuple(kept)), whole_demo.folder)
    assert {item["id"] for item in found.criteria} == {item["id"] for item in stored.criteria}
    assert with_versions(stored, whole_demo.folder) == stored


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ((), ""),
        ((4,), "4"),
        ((3, 1, 2, 7), "1-3, 7"),
        ((1, 3, 5, 7, 8), "1, 3 and 3 more (--rows FILE writes all)"),
    ],
)
def test_row_numbers_are_told_in_ranges(numbers, words):
    assert ranges(numbers, at_most=2) == words
