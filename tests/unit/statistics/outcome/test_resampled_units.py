"""Combining draws of one unit a group: the rule by hand, and its refusal."""

import math

import numpy as np
import pytest

from lengthwise.statistics.outcome.resampled_units import combine_draws


def test_variance_is_the_mean_variance_less_that_between_draws():
    found = combine_draws([0.4, 0.6], [0.05, 0.07])
    # 0.06 - 0.01 = 0.05; 0.5 -+ 1.959964 * sqrt(0.05)
    half = 1.959963984540054 * math.sqrt(0.05)
    assert (found.estimate, found.lower, found.upper) == pytest.approx(
        (0.5, 0.5 - half, 0.5 + half)
    )
    assert "2 draws" in found.method


def test_draws_that_differ_more_than_their_errors_are_said():
    found = combine_draws([0.0, 2.0], [0.01, 0.01])
    assert found.valid
    assert "wider than need be" in found.reason
    assert found.upper - found.estimate == pytest.approx(1.959963984540054 * 0.1)


def test_draws_without_a_fit_are_left_out_and_one_is_not_enough():
    assert not combine_draws([0.4, np.nan], [0.05, np.nan]).valid
    assert "3 draws" in combine_draws([0.4, np.nan, 0.5, 0.6], [0.1, 0.1, 0.1, 0.1]).method
    with pytest.raises(ValueError, match="shape"):
        combine_draws([0.4], [0.1, 0.2])
