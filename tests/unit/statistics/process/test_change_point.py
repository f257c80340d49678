"""The most likely single change."""

import numpy as np
import pytest
from scipy import stats

from lengthwise.statistics.process.change_point import change_point


def test_statistic_equals_the_poisson_likelihoods() -> None:
    """Independent route: scipy's Poisson log probabilities at the fitted rates."""
    seen, hoped = np.array([2.0, 3, 1, 9, 8, 12]), np.array([3.0, 4, 2, 4, 5, 6])
    found = change_point(seen, hoped, minimum_points=6, draws=99)
    scaled = hoped * seen.sum() / hoped.sum()
    one = stats.poisson.logpmf(seen, scaled).sum()
    two = []
    for split in range(1, 6):
        rates = np.r_[
            np.full(split, seen[:split].sum() / scaled[:split].sum()),
            np.full(6 - split, seen[split:].sum() / scaled[split:].sum()),
        ]
        two.append(stats.poisson.logpmf(seen, scaled * rates).sum() - one)
    assert found.statistic == pytest.approx(max(two), abs=1e-10)
    assert found.position == int(np.argmax(two)) + 1


def test_planted_change_is_placed_at_its_point() -> None:
    random = np.random.default_rng(4)
    rates = np.r_[np.full(16, 14.0), np.full(14, 7.0)]
    found = change_point(random.poisson(rates), np.ones(30), direction="fall")
    assert found.position is not None
    assert abs(found.position - 16) <= 1
    assert found.p_value < 0.01
    assert found.ratio_before > 1 > found.ratio_after


def test_false_signals_are_near_nominal() -> None:
    random = np.random.default_rng(8)
    small = [
        change_point(random.poisson(6.0, 12), np.ones(12), draws=199, seed=run).p_value <= 0.05
        for run in range(400)
    ]
    # 400 series at 0.05: 20 expected, SD 4.4; four SDs either way.
    assert 3 <= sum(small) <= 38


def test_direction_refusals_and_misuse() -> None:
    rise = np.r_[np.full(6, 2.0), np.full(6, 9.0)]
    assert change_point(rise, np.ones(12), direction="rise").p_value < 0.01
    assert change_point(rise, np.ones(12), direction="fall").p_value > 0.5
    short = change_point(rise[:9], np.ones(9))
    assert not short.valid
    assert "not enough points: 9" in short.reason
    assert "fewer than 5" in change_point(np.r_[1.0, np.zeros(11)], np.ones(12)).reason
    with pytest.raises(ValueError, match="direction"):
        change_point(rise, np.ones(12), direction="up")
    with pytest.raises(ValueError, match="one length"):
        change_point(rise, np.ones(11))


def test_points_without_cases_are_set_aside_and_positions_kept() -> None:
    seen = np.r_[np.full(6, 2.0), np.nan, np.full(6, 9.0)]
    hoped = np.r_[np.ones(6), 0.0, np.ones(6)]
    found = change_point(seen, hoped)
    assert (found.position, found.n_used, found.n_missing) == (7, 12, 1)
