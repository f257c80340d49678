"""Columns of a table share an A4 line; what fits is left alone."""

import pytest

from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.widths import EDGES, column_widths

LONG = (
    "a sentence of some length that says why the target was set as it was set, and its source"
)


def test_a_table_that_fits_gets_equal_dashes():
    assert len(set(column_widths(["Level", "n"], [["short", "12"]]))) == 1


def test_short_columns_keep_their_width_and_long_ones_share_the_rest():
    widths = column_widths(["No.", "Why", "What"], [["1", LONG, LONG[:45]]] * 3)
    assert widths[0] < 10
    assert widths[1] > widths[2] > 20


@pytest.mark.parametrize("word", ["x" * 30, "−0.29\u00a0(−0.41\u00a0to\u00a0−0.17)"])
def test_no_column_is_narrower_than_its_longest_word(word):
    widths = column_widths(["A", "B", "C"], [[word, LONG, LONG]])
    assert widths[0] >= len(word) + EDGES


def test_wide_tables_with_equal_columns_are_not_taken_for_ones_that_fit():
    assert len(set(column_widths(["A", "B"], [[LONG, LONG]]))) > 1


def test_a_table_without_rows_has_widths():
    assert len(column_widths(["A", "B"], [])) == 2


def test_numbers_with_their_intervals_stay_on_one_line():
    shown = pipe_table(
        (text("A"), figure("B")), [("x", "0.12 (0.05 to 0.19)*")], caption="c", label="l"
    )
    assert "0\\.12\u00a0\\(0\\.05\u00a0to\u00a00\\.19\\)\\*" in shown
