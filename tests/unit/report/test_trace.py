"""The small print that leads back from a table or figure to the stored results."""

from fnmatch import fnmatchcase

import pytest

from lengthwise.report.tables import pipe_table, text
from lengthwise.report.trace import compact, footer

LIMITS = [
    f"A2.{method}.confirmed.2024-Q1--2026-Q2.{measure}"
    for method in ("film", "tactile")
    for measure in ("bias", "sd")
]
QUARTERS = [f"B1.within.quarter-2026-Q{number}.2026-Q{number}.share" for number in (1, 2)]


def test_one_id_stays_as_it_is():
    assert compact(LIMITS[:1]) == LIMITS[:1]


def test_parts_that_differ_become_a_star():
    assert compact(LIMITS) == ["A2.*.confirmed.2024-Q1--2026-Q2.*"]


def test_whole_words_before_a_hyphen_are_kept():
    assert compact(QUARTERS) == ["B1.within.quarter-2026-*.2026-*.share"]


@pytest.mark.parametrize(
    "ids", [LIMITS, QUARTERS, [*LIMITS, *QUARTERS], [f"A{n}.x.y" for n in range(9)]]
)
def test_every_id_is_matched_by_a_pattern(ids):
    patterns = compact(ids)
    assert all(any(fnmatchcase(name, pattern) for pattern in patterns) for name in ids)


def test_no_ids_and_no_words_leave_no_footer():
    assert footer([]) == ""


def test_the_footer_follows_its_table_and_is_plain_text():
    shown = pipe_table((text("A"),), [("x",)], caption="c", label="l", ids=["A1.`x`$y$.bias"])
    assert shown.index("{#tbl-l}") < shown.index("::: {.result-ids}")
    assert "Result id: `A1.xy.bias`" in shown
