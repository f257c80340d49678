"""The handbook's table of check values is what the cases give today."""

import csv

import pytest

from reference.runner import Case
from reference.table import COLUMNS, NO_DATA, TABLE, row_of, table_cases


def _kept() -> dict[str, dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as source:
        return {row["case"]: row for row in csv.DictReader(source)}


def test_the_table_lists_every_case_once_and_meets_all():
    kept = _kept()
    assert list(kept) == [case.id for case in table_cases()]
    outcomes = {row["outcome"].split(":")[0] for row in kept.values()}
    assert outcomes <= {"met", "yes or no only; met", "not offered"}


@pytest.mark.parametrize("shown", table_cases(), ids=lambda shown: shown.id)
def test_the_row_of_a_case_is_what_it_gives(shown: Case):
    found, kept = row_of(shown), _kept()[shown.id]
    if found["outcome"] == NO_DATA:
        pytest.skip(NO_DATA)
    words = [name for name in COLUMNS if name not in ("ours", "difference", "quantity")]
    assert {name: found[name] for name in words if name != "expected"} == {
        name: kept[name] for name in words if name != "expected"
    }
    if found["quantity"] == kept["quantity"] and found["ours"]:
        assert float(found["ours"]) == pytest.approx(float(kept["ours"]), rel=1e-6, abs=1e-8)
