"""Pooling of sites: exactness, refusals, few sites."""

import math

import numpy as np
import pytest

from lengthwise.statistics.pooling import (
    SiteSums,
    pool_coefficients,
    pool_moments,
    sharing_refusals,
    site_sums,
)
from lengthwise.statistics.random_effects import as_share, pooled_proportion, random_effects


def test_printed_example_of_three_sites() -> None:
    # Cochrane Handbook 6.5.2 (formula); the numbers are printed by StatsToDo: N 45, sum 550,
    # sum of squares 7614.34, mean 12.2222, SD 4.5028.
    rows = ((10, 11.8, 2.4), (20, 15.3, 3.2), (15, 8.4, 4.1))
    sites = [SiteSums(n, n * mean, sd**2 * (n - 1) + n * mean**2) for n, mean, sd in rows]
    found = pool_moments(sites)
    assert sum(site.total for site in sites) == pytest.approx(550)
    assert sum(site.total_of_squares for site in sites) == pytest.approx(7614.34, abs=5e-3)
    assert (round(found.bias, 4), round(found.sd_total, 4)) == (12.2222, 4.5028)
    assert found.site_sds == pytest.approx((2.4, 3.2, 4.1))


def test_pooling_loses_nothing_even_far_from_zero() -> None:
    values = np.random.default_rng(8).normal(20.0, 0.3, 90)
    found = pool_moments(
        [site_sums(values[:20]), site_sums(values[20:55]), site_sums(values[55:])]
    )
    assert found.bias == pytest.approx(values.mean(), rel=1e-12)
    assert found.sd_total == pytest.approx(values.std(ddof=1), rel=1e-9)


def test_a_small_site_refuses_the_pooling() -> None:
    found = pool_moments([SiteSums(30, 1.0, 5.0), SiteSums(9, 1.0, 5.0)])
    assert not found.valid
    assert "9 differences, fewer than 10" in found.reason
    assert "no sites" in pool_moments([]).reason


def test_missing_differences_are_not_shared() -> None:
    assert site_sums([1.0, math.nan, 3.0]) == SiteSums(2, 4.0, 10.0)


def test_impossible_sums_raise() -> None:
    with pytest.raises(ValueError, match="sum of squares"):
        pool_moments([SiteSums(20, 100.0, 1.0)])


@pytest.mark.parametrize(("count", "faults"), [(9, 1), (10, 0), (0, 1)])
def test_small_cells_may_not_leave(count: int, faults: int) -> None:
    found = sharing_refusals({"beyond": count, "within": 40})
    assert len(found) == faults
    assert all(str(count) not in text.replace("below 10", "") for text in found)


@pytest.mark.parametrize(("events", "faults"), [(29, 1), (30, 0)])
def test_sparse_models_may_not_leave(events: int, faults: int) -> None:
    found = sharing_refusals({}, events={"healing": events}, parameters={"healing": 3})
    assert len(found) == faults


def test_models_must_be_named_alike() -> None:
    with pytest.raises(ValueError, match="same models"):
        sharing_refusals({}, events={"a": 10})


def test_coefficients_are_pooled_one_by_one() -> None:
    values = np.array([[0.35, 1.0], [0.42, 1.2], [0.28, 0.4]])
    covariance = np.stack([np.diag([v, 0.1]) for v in (0.04, 0.06, 0.09)])
    found = pool_coefficients(["beyond", "lesion"], values, covariance)
    alone = random_effects(values[:, 0], [0.04, 0.06, 0.09])
    assert found["beyond"] == alone
    assert set(found) == {"beyond", "lesion"}
    with pytest.raises(ValueError, match="square"):
        pool_coefficients(["beyond", "lesion"], values, covariance[:2])


@pytest.mark.parametrize("count", [0, 1])
def test_one_site_is_not_pooled(count: int) -> None:
    found = random_effects([0.2] * count, [0.1] * count)
    assert not found.pooled.valid
    assert "of at least 2" in found.pooled.reason


def test_two_sites_have_no_prediction_interval_and_a_warning() -> None:
    found = random_effects([0.2, 0.6], [0.1, 0.2])
    assert found.pooled.valid
    assert "fewer than 5 sites" in found.pooled.reason
    assert not found.prediction.valid
    assert found.prediction.reason


def test_equal_sites_have_no_variance_between() -> None:
    found = random_effects([0.3] * 5, [0.1, 0.2, 0.3, 0.1, 0.2])
    assert found.tau_squared.estimate == 0
    assert found.standard_error == found.wald_standard_error
    plain = random_effects([0.3] * 5, [0.1] * 5, interval="hartung-knapp")
    assert plain.pooled.lower == pytest.approx(0.3)


def test_sites_without_a_variance_are_set_aside() -> None:
    found = random_effects([0.1, 0.2, 0.3, math.nan], [0.1, 0.1, 0.0, 0.1])
    assert (found.pooled.n_used, found.pooled.n_missing) == (2, 2)


def test_sites_without_events_get_half_a_case() -> None:
    found = pooled_proportion([0, 3, 20, 0], [20, 20, 20, 0])
    assert (found.pooled.n_used, found.pooled.n_missing) == (3, 1)
    share = as_share(found.pooled)
    assert 0 < share.lower < share.estimate < share.upper < 1


def test_unknown_options_raise() -> None:
    with pytest.raises(ValueError, match="unknown"):
        random_effects([1, 2], [1, 1], estimator="EB")
    with pytest.raises(ValueError, match="length"):
        random_effects([1, 2], [1])
    with pytest.raises(ValueError, match="events"):
        pooled_proportion([3], [2])
