"""Nothing outside 93 to 97 in 100 is hidden, and what a report says of it is true."""

import json
import re

import pytest

from lengthwise.report.held import HEALING_LOW_BY

from . import runner
from .stated import STATED, is_told_by_results, stated
from .studies import STUDIES
from .table import read

# Where nearly every trial was refused, the few that were not are a choice by chance.
FEWEST_GIVEN = 100


def by_pair(name):
    found = {}
    for row in read(runner.RESULTS / f"{name}.csv"):
        found.setdefault((row["method"], row["quantity"]), []).append(row)
    return found


def figures(row):
    """Return the patients of a cell and its coverage in whole times of 100."""
    patients = json.loads(row["grid"]).get("patients", 0)
    return patients, round(100 * float(row["coverage"]))


def well_given(rows):
    return [
        row for row in rows
        if row["coverage"]
        and int(row["n_simulations"]) * (1 - float(row["refused_share"])) >= FEWEST_GIVEN
    ]  # fmt: skip


@pytest.mark.parametrize("name", STUDIES)
def test_every_figure_outside_is_told(name):
    for pair, rows in by_pair(name).items():
        if any(row["within_93_97"] == "no" for row in rows) and not is_told_by_results(rows):
            assert stated(name, *pair) is not None, pair


@pytest.mark.parametrize(
    "sentence", list(dict.fromkeys(one.held for one in STATED if one.held))
)
def test_sentences_of_the_report_are_in_step_with_the_figures(sentence):
    """The range is that of the tables, neither narrower nor wider."""
    shares = [
        figures(row)
        for entry in STATED
        if entry.held == sentence
        for pair, rows in by_pair(entry.study).items()
        if stated(entry.study, *pair) == entry
        for row in well_given(rows)
    ]
    many = [share for patients, share in shares if patients >= sentence.patients]
    few = [share for patients, share in shares if patients < sentence.patients]
    assert (min(many), max(many)) == sentence.many
    assert (min(few), max(few)) == sentence.few
    assert min(patients for patients, _ in shares) == sentence.fewest


@pytest.mark.parametrize(
    "entry", [one for one in STATED if one.printed], ids=lambda one: one.study
)
def test_other_sentences_hold_every_figure_too(entry):
    said = re.findall(r"(\d+)(?: to (\d+))? times", entry.printed)
    numbers = [int(one) for pair in said for one in pair if one]
    assert numbers, entry.printed
    for pair, rows in by_pair(entry.study).items():
        for row in well_given(rows) if stated(entry.study, *pair) == entry else []:
            assert min(numbers) <= figures(row)[1] <= max(numbers), row


def test_no_entry_is_left_without_a_figure_outside():
    for entry in STATED:
        outside = [
            pair
            for pair, rows in by_pair(entry.study).items()
            if stated(entry.study, *pair) == entry
            and any(row["within_93_97"] == "no" for row in rows)
        ]
        assert outside, entry


def test_shares_healed_are_low_by_as_much_as_is_said():
    rows = read(runner.RESULTS / "outcome_healing.csv")
    low = [-100 * float(row["mean_bias"]) for row in rows]
    assert min(low) > 0
    assert round(max(low)) == HEALING_LOW_BY
