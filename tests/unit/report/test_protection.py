"""What can be worked out of a hidden count, against closed forms."""

import math

import pytest

from lengthwise.report.disclosure.cells import RowCells, Tabulation
from lengthwise.report.disclosure.profiles import Profile
from lengthwise.report.disclosure.protection import Bounds, bounds_of, components, feasible
from lengthwise.report.disclosure.suppress import hidden_rows, sensitive_cells

SHARED = Profile("shared", 10, 5, True)
EXACT = Profile("internal", 5, 1, False)
SUM = {"a": 1, "b": 1, "whole": -1}


@pytest.mark.parametrize(
    ("count", "profile", "bounds"),
    [
        (23, SHARED, Bounds(23, 27)),
        (25, SHARED, Bounds(23, 27)),
        (10, SHARED, Bounds(10, 12)),
        (12, SHARED, Bounds(10, 12)),
        (7, EXACT, Bounds(7, 7)),
        (0, EXACT, Bounds(0, 0)),
    ],
)
def test_a_shown_count_tells_its_window_and_that_it_is_not_small(count, profile, bounds):
    assert bounds_of(count, profile) == bounds


def test_a_part_is_the_whole_less_the_other_part():
    known = {"whole": Bounds(98, 102), "b": Bounds(88, 92)}
    (found,) = feasible([SUM], known, ["a"]).values()
    assert (found.lower, found.upper) == pytest.approx((6, 14))


def test_nothing_above_bounds_a_part_of_an_unknown_whole():
    (found,) = feasible([SUM], {"b": Bounds(5, 5)}, ["a"]).values()
    assert found.lower == pytest.approx(0)
    assert math.isinf(found.upper)


def test_two_sums_narrow_a_part_that_they_share():
    other = {"a": 1, "c": 1, "total": -1}
    known = {
        "whole": Bounds(20, 24), "b": Bounds(10, 12),
        "total": Bounds(15, 17), "c": Bounds(6, 8),
    }  # fmt: skip
    (found,) = feasible([SUM, other], known, ["a"]).values()
    assert (found.lower, found.upper) == pytest.approx((8, 11))


def test_what_does_not_fit_counts_as_exposed():
    known = {"whole": Bounds(3, 3), "b": Bounds(9, 9)}
    assert feasible([SUM], known, ["a"])["a"] == Bounds(0, 0)


def test_sums_without_a_common_cell_are_worked_out_apart():
    groups = components([SUM, {"x": 1, "y": -1, "z": 1}, {"whole": 1, "d": -1, "e": 1}])
    assert sorted(len(group) for group in groups) == [1, 2]


def three_parts(a, b, c):
    """Return a table of three parts and their whole, all shown with an exact count."""
    table = Tabulation(
        counts={"a": a, "b": b, "c": c, "whole": a + b + c},
        equations=[{"a": 1, "b": 1, "c": 1, "whole": -1}],
    )
    table.rows = {i: RowCells(name, "", "whole") for i, name in enumerate("abc")}
    return table


def test_the_smallest_other_part_is_hidden_to_protect_a_small_one():
    assert hidden_rows(three_parts(3, 20, 40), EXACT) == {0, 1}


def test_nothing_is_hidden_where_nothing_is_small():
    table = three_parts(8, 20, 40)
    assert sensitive_cells(table, EXACT) == set()
    assert hidden_rows(table, EXACT) == set()


def test_rows_that_are_public_stay_and_another_is_hidden():
    assert hidden_rows(three_parts(3, 20, 40), EXACT, public={1}) == {0, 2}


def test_rounding_alone_protects_where_it_leaves_enough():
    """Whole 98 to 102, the others 53 to 57 and 38 to 42: nought to eleven are left."""
    assert hidden_rows(three_parts(5, 55, 40), SHARED) == {0}
