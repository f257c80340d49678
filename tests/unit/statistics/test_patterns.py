"""Rows brought together by pattern give back the rows' sums."""

import numpy as np

from lengthwise.statistics import patterns
from lengthwise.statistics.agreement.log_variance import log_variance_model
from lengthwise.statistics.patterns import (
    ClusteredRows,
    Design,
    design_of,
    grouped,
    joint_patterns,
    row_patterns,
)


def test_patterns_are_the_distinct_rows():
    generator = np.random.default_rng(3)
    design = generator.integers(3, size=(500, 4)).astype(float)
    codes, first = row_patterns(design)
    assert np.array_equal(design[first][codes], design)
    assert len(first) == len(np.unique(design, axis=0))


def test_rows_whose_weighted_sums_meet_are_still_told_apart(monkeypatch):
    class Equal:
        def uniform(self, low, high, size):
            return np.ones(size)

    monkeypatch.setattr(np.random, "default_rng", lambda seed: Equal())
    codes, first = row_patterns(np.array([[0.0, 1.0], [1.0, 0.0], [0.0, 1.0]]))
    assert codes.tolist() == [0, 1, 0]
    assert first.tolist() == [0, 1]


def test_squares_about_a_value():
    found = grouped(np.array([1.0, 2.0, 6.0]), np.array([0, 0, 1]), 2)
    assert found.squares_about(np.array([0.0, 5.0])).tolist() == [5.0, 1.0]


def test_the_spread_model_does_not_care_whether_rows_repeat():
    generator = np.random.default_rng(4)
    x = np.column_stack([np.ones(400), generator.integers(2, size=400)]).astype(float)
    y = generator.standard_normal(400) * np.exp(x[:, 1] / 2)
    by_pattern = log_variance_model(y, x, x, patient=np.arange(400) // 3)
    # A third column, unlike in every row, keeps the rows apart; its weight is nearly nothing.
    apart = np.column_stack([x, generator.standard_normal(400)])
    by_row = log_variance_model(y, x, apart, patient=np.arange(400) // 3)
    assert by_pattern.valid
    assert by_row.valid
    np.testing.assert_allclose(
        by_pattern.variance_coefficients, by_row.variance_coefficients[:2], atol=0.05
    )


def test_joint_patterns_are_those_of_all_columns_together():
    generator = np.random.default_rng(5)
    columns = [generator.integers(4, size=300) for _ in range(3)]
    codes, first = joint_patterns(columns)
    table = np.column_stack(columns)
    assert np.array_equal(table[first][codes], table)
    assert len(first) == len(np.unique(table, axis=0))


def test_joint_patterns_stand_columns_of_very_many_values(monkeypatch):
    monkeypatch.setattr(patterns, "_LARGEST_CODE", 20)
    columns = [np.array([0, 1, 2, 3, 0]), np.array([5, 4, 3, 2, 5]), np.array([7, 7, 8, 8, 7])]
    assert joint_patterns(columns)[0].tolist() == [0, 1, 2, 3, 0]


def test_a_design_keeps_rows_apart_where_hardly_any_repeat():
    x = np.random.default_rng(6).standard_normal((50, 2))
    assert np.array_equal(design_of(x).rows, x)
    assert len(design_of(np.ones((50, 1))).rows) == 1


def test_sums_by_cluster_and_pattern():
    design = Design(np.array([0, 1, 0, 1]), np.eye(2))
    rows = ClusteredRows(np.array([1, 0, 1, 1]), 2)
    found = rows.by_pattern(design, np.array([1.0, 2.0, 3.0, 4.0]))
    assert found.toarray().tolist() == [[0.0, 2.0], [4.0, 4.0]]
