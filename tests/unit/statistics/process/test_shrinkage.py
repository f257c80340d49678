"""Shrinkage, observed against expected, case-mix and reliability at their edges."""

import math

import numpy as np
import pytest

from lengthwise.statistics.process.case_mix import expected_risks
from lengthwise.statistics.process.observed_expected import exact_ratio, observed_expected
from lengthwise.statistics.process.reliability import (
    cases_needed_for_reliability,
    reliability_of_cases,
)
from lengthwise.statistics.process.shrinkage_beta import (
    beta_binomial_shrinkage,
    beta_from_moments,
)
from lengthwise.statistics.process.shrinkage_logit import logit_normal_shrinkage

FITS = (
    beta_binomial_shrinkage,
    lambda events, cases: logit_normal_shrinkage(events, cases, np.arange(len(cases))),
)


@pytest.mark.parametrize("fit", FITS)
@pytest.mark.parametrize(
    ("events", "cases", "words"),
    [
        ([0] * 6, [20] * 6, "no event"),
        ([20] * 6, [20] * 6, "nothing but events"),
        ([0, 0, 0, 20, 20, 20], [20] * 6, "all or nothing"),
        ([0, 1] * 5, [1] * 10, "one case"),
        ([3], [20], "fewer than 5"),
        ([], [], "fewer than 5"),
    ],
)
def test_fits_that_cannot_be_made_say_why(fit, events, cases, words: str) -> None:
    found = fit(events, cases)
    assert not found.valid
    assert words in found.reason


@pytest.mark.parametrize("fit", FITS)
def test_equal_units_show_no_variation(fit) -> None:
    found = fit([5] * 8, [20] * 8)
    assert found.valid
    assert "no variation" in found.reason
    assert found.reliability == (0.0,) * 8


def test_no_variation_puts_every_unit_at_the_mean() -> None:
    beta = beta_binomial_shrinkage([5] * 8, [20] * 8)
    assert {share.estimate for share in beta.shares} == {0.25}
    logit = logit_normal_shrinkage([5] * 8, [20] * 8, np.arange(8))
    assert logit.share_mean == pytest.approx((0.25,) * 8)
    assert logit.odds_ratio == (1.0,) * 8


def test_small_units_are_pulled_more() -> None:
    events, cases = [1, 10, 2, 30, 0, 60], [2, 20, 20, 60, 50, 70]
    found = beta_binomial_shrinkage(events, cases)
    assert found.reliability[0] < found.reliability[1]
    gaps = [
        abs(e / c - s.estimate) for e, c, s in zip(events, cases, found.shares, strict=True)
    ]
    assert gaps[0] > gaps[1]


def test_rows_of_one_unit_are_one_unit() -> None:
    events, cases = [3, 9, 1, 14, 6, 2], [20, 25, 18, 30, 22, 19]
    whole = logit_normal_shrinkage(events, cases, list("abcdef"))
    outcome = np.concatenate(
        [np.repeat([1, 0], [e, c - e]) for e, c in zip(events, cases, strict=True)]
    )
    rows = logit_normal_shrinkage(
        outcome, np.ones(outcome.size, dtype=int), np.repeat(list("abcdef"), cases)
    )
    assert rows.mean == pytest.approx(whole.mean, abs=1e-8)
    assert rows.effect == pytest.approx(whole.effect, abs=1e-8)


def test_moments_that_fit_no_beta_raise() -> None:
    with pytest.raises(ValueError, match="spread"):
        beta_from_moments([0.0, 1.0])
    with pytest.raises(ValueError, match="two"):
        beta_from_moments([0.5])


def test_observed_expected_keeps_small_units_as_counts() -> None:
    outcome, unit = [1, 0] * 6 + [1], ["b"] * 12 + ["a"]
    found = observed_expected(outcome, [0.25] * 13, unit)
    assert [row.unit for row in found.units] == ["a", "b"]
    assert not found.units[0].ratio.valid
    assert "1 of 1" in found.units[0].ratio.reason
    assert found.units[1].ratio.estimate == pytest.approx(2.0)


def test_no_observed_event_has_a_lower_limit_of_0() -> None:
    # Exact Poisson, 0 events against 3.2 expected; Garwood 1936.
    found = exact_ratio(0, 3.2, cases=25)
    assert (found.estimate, found.lower) == (0, 0)
    assert found.upper == pytest.approx(1.1527748294, rel=1e-9)
    assert not exact_ratio(1, 0.0, cases=5).valid


def test_observed_expected_sets_incomplete_cases_aside() -> None:
    found = observed_expected([1, math.nan, 0], [0.1, 0.2, math.nan], ["a", "a", None])
    assert (found.n_used, found.n_missing) == (1, 2)
    assert not observed_expected([], [], []).valid


@pytest.mark.parametrize(
    ("outcome", "risk", "unit"),
    [([2], [0.1], ["a"]), ([1], [1.1], ["a"]), ([1, 0], [0.1], ["a"])],
)
def test_observed_expected_misuse_raises(outcome: list, risk: list, unit: list) -> None:
    with pytest.raises(ValueError):
        observed_expected(outcome, risk, unit)


def test_case_mix_refuses_sparse_and_separated_data() -> None:
    few = expected_risks([1] * 4 + [0] * 50, np.arange(54.0)[:, None])
    assert "fewer than 5" in few.reason
    many = expected_risks([1] * 15 + [0] * 50, np.random.default_rng(1).normal(size=(65, 2)))
    assert "use fewer covariates" in many.reason
    side = np.repeat([1.0, 0.0], [20, 30])
    split = expected_risks(side, side[:, None])
    assert not split.valid
    assert "separates" in split.reason
    twice = expected_risks([1, 0] * 30, np.tile(np.arange(60.0)[:, None], 2))
    assert "drop one" in twice.reason


def test_case_mix_gives_a_risk_to_a_case_without_outcome() -> None:
    covariate = np.tile([0.0, 1.0], 40)[:, None]
    outcome = np.tile([0.0, 1.0, 1.0, 0.0, 0.0, 1.0, 0.0, 1.0], 10)
    outcome[0], covariate[1, 0] = math.nan, math.nan
    found = expected_risks(outcome, covariate)
    assert found.valid
    assert found.n_missing == 2
    assert 0 < found.risk[0] < 1
    assert math.isnan(found.risk[1])
    used = np.isfinite(outcome) & np.isfinite(covariate[:, 0])
    assert np.array(found.risk)[used].sum() == pytest.approx(outcome[used].sum())


def test_reliability_of_the_cases_needed_is_the_one_wanted() -> None:
    needed = cases_needed_for_reliability(0.7, 0.05)
    assert reliability_of_cases(needed, 0.05) == pytest.approx(0.7)
    assert cases_needed_for_reliability(0.7, 0) == math.inf
    assert reliability_of_cases(0, 0.1) == 0
    with pytest.raises(ValueError):
        cases_needed_for_reliability(1, 0.1)
