"""Shrunken effects averaged over the spread: against brute force, and what must not change."""

import numpy as np
import pytest
from scipy import special, stats

from lengthwise.statistics.process.shrinkage_average import averaged_effects
from lengthwise.statistics.process.shrinkage_logit import logit_normal_shrinkage

EVENTS = np.array([4, 9, 6, 21, 8])
CASES = np.array([60, 75, 90, 110, 80])
UNITS = np.arange(5)


def _brute_force(largest: float = 1.5, *, with_mean: bool = False) -> np.ndarray:
    """Return mean, 2.5 % and 97.5 % of each unit's effect by sums over a fine grid.

    Flat on the spread and on the mean; nothing is shared with the code under test.
    """
    spread = (np.arange(80) + 0.5) * largest / 80
    mean = np.linspace(-4.5, -0.2, 121)
    effect = np.linspace(-5, 5, 801)
    prior = stats.norm.pdf(effect[None], scale=spread[:, None])
    risk = special.expit(mean[:, None] + effect[None])
    found = []
    like = stats.binom.pmf(EVENTS[:, None, None], CASES[:, None, None], risk[None])
    whole = np.einsum("ume,se->usm", like, prior)
    for unit in range(5):
        others = np.delete(whole, unit, axis=0).prod(axis=0)
        joint = np.einsum("sm,me,se->me", others, like[unit], prior)
        density = joint.sum(axis=0)
        if with_mean:
            place = np.rint((mean[:, None] + effect[None] + 10) / 0.0125).astype(int)
            density = np.bincount(place.ravel(), weights=joint.ravel(), minlength=801)
            effect_here = np.arange(density.size) * 0.0125 - 10
        else:
            effect_here = effect
        density = density / density.sum()
        cumulated = density.cumsum()
        ends = [np.interp(share, cumulated, effect_here) for share in (0.025, 0.975)]
        found.append([density @ effect_here, *ends])
    return np.array(found)


def test_effects_and_intervals_agree_with_brute_force() -> None:
    found = averaged_effects(EVENTS, CASES, UNITS)
    ours = np.column_stack([found.effect, found.lower, found.upper])
    # Twelve spreads and a mean at its maximum stand for the whole surface.
    assert ours == pytest.approx(_brute_force(), abs=0.03)


def test_effects_against_the_offset_carry_the_mean() -> None:
    found = averaged_effects(EVENTS, CASES, UNITS, against_offset=True)
    ours = np.column_stack([found.effect, found.lower, found.upper])
    # A mixture of normals leaves out some of the skew of a unit with four events.
    assert ours == pytest.approx(_brute_force(with_mean=True), abs=0.05)


def test_interval_has_width_where_the_best_spread_is_nought() -> None:
    events, cases = np.array([10, 11, 10, 9, 10]), np.full(5, 100)
    plain = logit_normal_shrinkage(events, cases, UNITS)
    assert plain.standard_deviation == 0
    assert set(plain.effect_error) == {0.0}
    found = averaged_effects(events, cases, UNITS)
    assert np.all(found.upper - found.lower > 0.3)
    assert np.all(np.abs(found.effect) < 0.1)


def test_rows_of_one_unit_may_be_split_and_their_order_changed() -> None:
    whole = averaged_effects(EVENTS, CASES, UNITS)
    split = averaged_effects(
        [12, 4, 9, 6, 9, 8], [50, 60, 75, 90, 60, 80], [3, 0, 1, 2, 3, 4]
    )  # fmt: skip
    assert split.units == whole.units
    assert split.effect == pytest.approx(whole.effect, abs=1e-9)
    assert split.upper == pytest.approx(whole.upper, abs=1e-9)


def test_a_common_offset_is_taken_up_by_the_mean() -> None:
    plain = averaged_effects(EVENTS, CASES, UNITS)
    moved = averaged_effects(EVENTS, CASES, UNITS, offset=np.full(5, 0.7))
    assert moved.effect == pytest.approx(plain.effect, abs=1e-6)


def test_more_cases_pull_less() -> None:
    few = averaged_effects(EVENTS, CASES, UNITS)
    many = averaged_effects(8 * EVENTS, 8 * CASES, UNITS)
    raw = np.log(EVENTS / (CASES - EVENTS))
    apart = np.abs(raw - raw.mean())
    assert abs(many.effect[3]) > abs(few.effect[3])
    assert np.all(many.upper - many.lower < few.upper - few.lower)
    assert apart[3] == apart.max()
