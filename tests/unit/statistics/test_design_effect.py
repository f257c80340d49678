"""The design effect of a mean."""

import numpy as np
import pytest
import statsmodels.api as sm

from lengthwise.statistics.design_effect import design_effect_of_mean


def test_equals_the_cluster_robust_variance_of_statsmodels() -> None:
    """Independent route: statsmodels OLS with cov_type cluster over its plain variance."""
    random = np.random.default_rng(3)
    cluster = np.repeat(np.arange(40), random.integers(1, 5, 40))
    values = random.normal(size=40)[cluster] + random.normal(size=cluster.size)
    plain = sm.OLS(values, np.ones(cluster.size)).fit()
    robust = sm.OLS(values, np.ones(cluster.size)).fit(
        cov_type="cluster", cov_kwds={"groups": cluster, "use_correction": False}
    )
    wanted = robust.bse[0] ** 2 * 40 / 39 / plain.bse[0] ** 2
    n = cluster.size
    found = design_effect_of_mean(values, cluster).estimate
    # statsmodels' plain variance has divisor n - 1, as the plain variance of a mean.
    assert found == pytest.approx(wanted * (n - 1) / n * n / (n - 1), rel=1e-10)


def test_doubled_cases_double_it_and_single_cases_leave_one() -> None:
    values = np.random.default_rng(1).normal(size=60)
    assert design_effect_of_mean(values, np.arange(60)).estimate == pytest.approx(1.0)
    twice = design_effect_of_mean(np.tile(values, 2), np.tile(np.arange(60), 2)).estimate
    assert twice == pytest.approx(2 * 60 / 59 * 119 / 120)


def test_refusals_missing_and_misuse() -> None:
    assert "fewer than 10" in design_effect_of_mean([1.0, 2.0], ["a", "b"]).reason
    assert "alike" in design_effect_of_mean(np.ones(12), np.arange(12)).reason
    values = np.r_[np.arange(12.0), np.nan]
    assert design_effect_of_mean(values, np.arange(13)).n_missing == 1
    with pytest.raises(ValueError, match="one length"):
        design_effect_of_mean([1.0], [1, 2])
