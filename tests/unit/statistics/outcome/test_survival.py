"""Survival, interval-censored healing, and hazards by period."""

import numpy as np
import pytest

from lengthwise.statistics.outcome.discrete_time import (
    fit_discrete_time,
    person_periods,
    predicted_survival,
)
from lengthwise.statistics.outcome.survival import kaplan_meier
from lengthwise.statistics.outcome.turnbull import turnbull
from lengthwise.statistics.outcome.turnbull_bootstrap import turnbull_survival


def test_without_censoring_survival_is_a_proportion() -> None:
    time = np.arange(1, 41)
    curve = kaplan_meier(time, np.ones(40), times=[10])
    point = curve.points[0]
    assert point.survival.estimate == pytest.approx(0.75)
    assert point.standard_error == pytest.approx(np.sqrt(0.75 * 0.25 / 40))
    assert point.greenwood_standard_error == pytest.approx(point.standard_error)
    assert curve.median == 20


def test_copies_of_a_patient_widen_only_the_clustered_interval() -> None:
    generator = np.random.default_rng(41)
    time = np.ceil(generator.exponential(30, 50))
    event = (generator.random(50) < 0.6).astype(float)
    once = kaplan_meier(time, event, times=[20], cluster=np.arange(50)).points[0]
    thrice = kaplan_meier(
        np.repeat(time, 3), np.repeat(event, 3), times=[20], cluster=np.repeat(np.arange(50), 3)
    ).points[0]
    assert thrice.survival.estimate == pytest.approx(once.survival.estimate)
    assert thrice.standard_error == pytest.approx(once.standard_error)
    assert thrice.greenwood_standard_error == pytest.approx(
        once.greenwood_standard_error / np.sqrt(3)
    )


def test_no_event_has_an_exact_lower_limit_and_no_zero_width() -> None:
    curve = kaplan_meier(np.full(25, 24.0), np.zeros(25), times=[12])
    point = curve.points[0].survival
    assert point.estimate == 1.0
    # Clopper-Pearson for 25 of 25.
    assert point.lower == pytest.approx(0.8628148284692875)
    assert "no event" in point.reason
    assert "only from below" in curve.reason


def test_past_the_last_time_survival_is_refused() -> None:
    curve = kaplan_meier([5, 8, 9], [1, 0, 0], times=[9, 10])
    assert curve.points[0].survival.valid
    assert not curve.points[1].survival.valid
    assert "followed this long" in curve.points[1].survival.reason


def test_all_lost_is_zero_with_a_reason() -> None:
    curve = kaplan_meier([3, 4, 5], [1, 1, 1], times=[6])
    point = curve.points[0].survival
    assert point.estimate == 0.0
    assert not point.valid
    assert point.reason
    assert curve.standard_errors[-1] == 0.0


def test_one_patient_with_all_teeth_has_no_clustered_interval() -> None:
    curve = kaplan_meier([3, 4, 5, 6], [1, 0, 1, 0], times=[4], cluster=["p"] * 4)
    point = curve.points[0]
    assert not point.survival.valid
    assert "between patients" in point.survival.reason
    assert point.greenwood.valid


def test_nobody_is_refused_and_missing_rows_counted() -> None:
    empty = kaplan_meier([np.nan, np.nan], [1, 0], times=[1])
    assert not empty.valid
    assert empty.n_missing == 2
    some = kaplan_meier([1, 2, np.nan], [1, 0, 1], cluster=["a", None, "b"])
    assert (some.n_used, some.n_missing) == (1, 2)


def test_survival_misuse_raises() -> None:
    with pytest.raises(ValueError):
        kaplan_meier([1, 2], [1])
    with pytest.raises(ValueError):
        kaplan_meier([-1, 2], [1, 0])
    with pytest.raises(ValueError):
        kaplan_meier([1, 2], [2, 0])


def test_turnbull_of_exact_and_right_censored_times_is_kaplan_meier() -> None:
    generator = np.random.default_rng(42)
    time = np.ceil(generator.exponential(10, 60))
    event = (generator.random(60) < 0.7).astype(float)
    curve = kaplan_meier(time, event)
    at = curve.event_times[:-1]
    found = turnbull(time, np.where(event == 1, time, np.inf), times=at)
    assert found.valid
    assert found.survival == pytest.approx(curve.survival[: len(at)], abs=1e-7)


def test_turnbull_of_grouped_times_is_the_share_by_group() -> None:
    left = np.repeat([0.0, 12.0, 24.0], [5, 3, 2])
    right = np.repeat([12.0, 24.0, np.inf], [5, 3, 2])
    found = turnbull(left, right, times=[12, 24])
    assert found.intervals == ((0.0, 12.0), (12.0, 24.0), (24.0, np.inf))
    assert found.masses == pytest.approx((0.5, 0.3, 0.2))
    assert found.survival == pytest.approx((0.5, 0.2))
    assert found.log_likelihood == pytest.approx(
        5 * np.log(0.5) + 3 * np.log(0.3) + 2 * np.log(0.2)
    )


def test_an_exact_time_lies_in_the_interval_that_ends_there() -> None:
    found = turnbull([0.0, 5.0], [5.0, 5.0])
    assert found.intervals == ((5.0, 5.0),)
    assert found.masses == pytest.approx((1.0,))


@pytest.mark.parametrize(
    ("left", "right", "reason"),
    [
        ([], [], "no unit has an interval"),
        ([np.nan], [3.0], "no unit has an interval"),
        ([3.0, 5.0], [np.inf, np.inf], "never seen"),
    ],
)
def test_turnbull_refusals(left: list, right: list, reason: str) -> None:
    found = turnbull(left, right, times=[1.0])
    assert not found.valid
    assert reason in found.reason


def test_turnbull_misuse_raises() -> None:
    with pytest.raises(ValueError):
        turnbull([5.0], [3.0])
    with pytest.raises(ValueError):
        turnbull([5.0], [6.0, 7.0])


def test_periods_count_only_what_was_at_risk_to_the_end() -> None:
    found = person_periods(
        [12, 13, 30, 0, np.nan], [1, 1, 0, 1, 0], period_length=12, n_periods=2
    )
    assert found.unit.tolist() == [0, 1, 1, 2, 2, 3]
    assert found.period.tolist() == [1, 1, 2, 1, 2, 1]
    assert found.event.tolist() == [1, 0, 1, 0, 0, 1]
    assert found.n_missing == 1


def test_periods_without_covariates_are_the_life_table() -> None:
    generator = np.random.default_rng(43)
    time = np.ceil(generator.exponential(20, 200))
    event = np.ones(200)
    rows = person_periods(time, event, period_length=6, n_periods=4)
    expected = [np.mean(time > 6 * k) for k in range(1, 5)]
    for link in ("logit", "cloglog"):
        fit = fit_discrete_time(rows.event, rows.period, link=link)
        assert predicted_survival(fit) == pytest.approx(expected, rel=1e-8)


def test_a_planted_hazard_ratio_is_recovered() -> None:
    generator = np.random.default_rng(44)
    beyond = generator.integers(0, 2, 6_000).astype(float)
    time = generator.exponential(40 / np.exp(0.7 * beyond))
    rows = person_periods(time, time < 48, period_length=12, n_periods=4)
    fit = fit_discrete_time(
        rows.event, rows.period, beyond[rows.unit], terms=("beyond",),
        link="cloglog", cluster=rows.unit // 2,
    )  # fmt: skip
    item = fit.coefficient("beyond")
    assert item.lower < 0.7 < item.upper


def test_a_period_without_an_event_is_refused() -> None:
    fit = fit_discrete_time([1, 0, 0, 0, 1, 0], [1, 1, 2, 2, 3, 3])
    assert not fit.valid
    assert "separation" in fit.reason
    assert predicted_survival(fit) == ()


def test_period_misuse_raises() -> None:
    with pytest.raises(ValueError):
        person_periods([1], [1], period_length=0, n_periods=2)
    with pytest.raises(ValueError):
        fit_discrete_time([1, 0], [1, 1], link="probit")


def reviews(n: int = 300) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Healing at a median of 14 months, seen at reviews every 6 months up to 36."""
    generator = np.random.default_rng(45)
    patient = np.arange(n) // 2
    time = (
        generator.exponential(20, n) * np.exp(0.3 * generator.standard_normal(n // 2))[patient]
    )
    left = np.minimum(np.floor(time / 6) * 6, 36)
    return left, np.where(left < 36, left + 6, np.inf), patient


def test_drawn_patients_surround_the_estimate() -> None:
    left, right, patient = reviews()
    found = turnbull_survival(left, right, patient, times=[12, 24], n_draws=200, seed=1)
    exact = turnbull(left, right, times=[12, 24]).survival
    assert [item.estimate for item in found] == pytest.approx(exact, abs=1e-5)
    # On a common grid of reviews the estimate is a proportion, so its clustered interval is
    # known: the ratio estimator's standard error.
    healed = (right <= 12).astype(float)
    sums = np.bincount(patient, weights=healed - healed.mean())
    error = np.sqrt(sums @ sums) / healed.size
    assert (found[0].upper - found[0].lower) / 3.92 == pytest.approx(error, rel=0.15)


def test_the_seed_of_the_draws_decides() -> None:
    data = reviews(60)
    once, again, other = (
        turnbull_survival(*data, times=[12], n_draws=50, seed=seed)[0] for seed in (3, 3, 4)
    )
    assert once == again
    assert once.lower != other.lower


def test_draws_are_refused_for_few_patients_or_no_event() -> None:
    left, right, patient = reviews(60)
    few = turnbull_survival(left, right, patient % 9, times=[12], seed=1)[0]
    assert not few.valid
    assert "9 patients" in few.reason
    never = turnbull_survival(left, np.full(60, np.inf), patient, times=[12], seed=1)[0]
    assert "never seen" in never.reason
    early = turnbull_survival(left + 1, right + 1, patient, times=[0], seed=1, n_draws=20)[0]
    assert not early.valid
    assert "no width" in early.reason
