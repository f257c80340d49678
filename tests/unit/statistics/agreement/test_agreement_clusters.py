"""Helpers for clusters, proportions and resampling."""

import math

import numpy as np
import pytest
import statsmodels.api as sm

from lengthwise.statistics.clusters import (
    cluster_codes,
    cluster_robust_least_squares,
    cluster_robust_mean,
    cluster_sums,
    nested_codes,
    one_way_anova,
)
from lengthwise.statistics.proportions import (
    clustered_proportion,
    clustered_proportion_of_rows,
    proportion,
    rao_scott_test,
    wilson_bounds,
)
from lengthwise.statistics.resampling import (
    bca_bounds,
    cluster_bootstrap,
    cluster_jackknife,
    jackknife_standard_error,
)


def mean_of(sums: np.ndarray) -> np.ndarray:
    return (sums[..., 1] / sums[..., 0])[..., None]


def test_codes_accept_any_labels_and_refuse_missing_ones() -> None:
    codes, count = cluster_codes(["b", "a", "b"])
    assert count == 2
    assert codes[0] == codes[2] != codes[1]
    with pytest.raises(ValueError, match="no missing label"):
        cluster_codes(["a", None])


def test_a_tooth_number_counts_within_its_patient() -> None:
    codes = nested_codes(["p", "p", "q", "q"], [11, 12, 11, 11])
    assert [count for _, count in codes] == [2, 3]


def test_sums_by_cluster_keep_shape() -> None:
    values = np.arange(12.0).reshape(3, 2, 2)
    sums = cluster_sums(values, np.array([0, 1, 0]), 2)
    assert sums.shape == (2, 2, 2)
    assert sums[0] == pytest.approx(values[0] + values[2])


def test_cluster_errors_match_statsmodels() -> None:
    rng = np.random.default_rng(1)
    cluster = np.repeat(np.arange(15), 4)
    x = np.column_stack([np.ones(60), rng.normal(size=60)])
    y = x @ [1.0, 0.5] + rng.normal(size=15)[cluster] + rng.normal(size=60)
    found = cluster_robust_least_squares(x, y, cluster)
    other = sm.OLS(y, x).fit(cov_type="cluster", cov_kwds={"groups": cluster})
    assert found.se_cr1s == pytest.approx(other.bse, rel=1e-10)
    assert found.coefficients == pytest.approx(other.params, rel=1e-10)


def test_one_row_per_cluster_gives_the_ordinary_mean() -> None:
    y = np.random.default_rng(2).normal(size=25)
    found = cluster_robust_mean(y, np.arange(25))
    interval = sm.stats.DescrStatsW(y).tconfint_mean()
    assert (found.lower, found.upper) == pytest.approx(interval, rel=1e-10)


def test_cluster_refusals_say_why() -> None:
    assert "one patient" in cluster_robust_mean([1.0, 2.0], ["a", "a"]).reason
    assert not cluster_robust_mean([np.nan], ["a"]).valid
    x = np.ones((4, 2))
    assert "told apart" in cluster_robust_least_squares(x, np.ones(4), [1, 1, 2, 2]).reason
    assert not cluster_robust_least_squares(x, np.ones(4), [1, 1, 2, 2]).coefficient(0).valid
    assert "one row" in one_way_anova([1.0, 2.0], ["a", "b"]).reason
    assert "equal" in one_way_anova(np.ones(4), [1, 1, 2, 2]).reason
    with pytest.raises(ValueError, match="design must be"):
        cluster_robust_least_squares(np.ones(4), np.ones(4), [1, 1, 2, 2])


@pytest.mark.parametrize("interval", ["wilson", "wilson_cc", "clopper_pearson", "jeffreys"])
def test_proportion_bounds_stay_within_zero_and_one(interval: str) -> None:
    for x in (0, 1, 9, 10):
        found = proportion(x, 10, interval=interval)
        assert 0 <= found.lower <= x / 10 <= found.upper <= 1
    assert proportion(0, 10, interval=interval).lower == 0
    assert proportion(10, 10, interval=interval).upper == 1


def test_small_denominators_are_refused_on_request() -> None:
    assert proportion(2, 9, minimum_n=10).reason == "fewer than 10 in the denominator"
    assert proportion(0, 0).reason == "the denominator is 0"
    with pytest.raises(ValueError, match="successes"):
        proportion(3, 2)
    with pytest.raises(ValueError, match="interval must be"):
        proportion(1, 2, interval="wald")
    with pytest.raises(ValueError, match="successes"):
        wilson_bounds(1, 0)


def test_clusters_of_one_give_wilson() -> None:
    y = np.array([1, 0, 1, 1, 0, 1, 1, 1, 0, 1])
    found = clustered_proportion(y, np.ones(10))
    assert found.inflation == 1
    assert (found.wilson_icc.lower, found.wilson_icc.upper) == pytest.approx(
        wilson_bounds(7, 10)
    )


def test_equal_clusters_inflate_by_the_classic_design_effect() -> None:
    # Closed form: 1 + (m - 1) ICC with m equal; here each patient is all or nothing, ICC 1.
    found = clustered_proportion([4, 0, 4, 0, 4, 0], [4] * 6)
    assert found.icc == pytest.approx(1.0)
    assert found.inflation == pytest.approx(4.0)
    assert found.wilson_icc.lower == pytest.approx(wilson_bounds(3, 6)[0])


def test_no_events_keep_an_interval_without_a_zero_width() -> None:
    found = clustered_proportion([0, 0, 0], [4, 5, 6])
    assert found.wilson_icc.upper > 0.1
    assert not found.wald.valid
    assert not found.wilson_ratio.valid


def test_rows_and_counts_agree_and_missing_is_counted() -> None:
    rows = [1, 0, np.nan, 1, 0, 0]
    found = clustered_proportion_of_rows(rows, ["a", "a", "a", "b", "b", "c"])
    again = clustered_proportion([1, 1, 0], [2, 2, 1])
    assert found.wilson_icc.n_missing == 1
    assert found.wilson_icc.upper == again.wilson_icc.upper
    assert not clustered_proportion([2], [4]).wilson_icc.valid


def test_rao_scott_needs_variation_in_every_group() -> None:
    found = rao_scott_test([0, 0, 1, 2], [3, 3, 3, 3], ["a", "a", "b", "b"])
    assert not found.valid
    assert math.isnan(found.p_value)


def test_jackknife_of_a_mean_is_its_standard_error() -> None:
    y = np.random.default_rng(5).normal(size=30)
    sums = np.column_stack([np.ones(30), y])
    error = jackknife_standard_error(cluster_jackknife(sums, mean_of))[0]
    assert error == pytest.approx(y.std(ddof=1) / np.sqrt(30))


def test_bootstrap_repeats_with_its_seed_and_brackets_the_mean() -> None:
    y = np.random.default_rng(5).normal(size=50)
    sums = np.column_stack([np.ones(50), y])
    drawn = cluster_bootstrap(sums, mean_of, draws=3000, seed=1)
    assert np.array_equal(drawn, cluster_bootstrap(sums, mean_of, draws=3000, seed=1))
    low, high = bca_bounds(mean_of(sums.sum(axis=0)), drawn, cluster_jackknife(sums, mean_of))
    assert high[0] - low[0] == pytest.approx(2 * 1.96 * y.std() / np.sqrt(50), rel=0.1)
    with pytest.raises(ValueError, match="draws"):
        cluster_bootstrap(sums, mean_of, draws=0, seed=1)
