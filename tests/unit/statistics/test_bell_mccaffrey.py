"""Many clusters give the same CR2 numbers by the series as by the roots."""

import numpy as np
import pytest

from lengthwise.statistics import bell_mccaffrey, clusters


@pytest.fixture
def data() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    generator = np.random.default_rng(7)
    cluster = generator.integers(300, size=1500)
    x = np.column_stack(
        [np.ones(1500), cluster % 7 == 0, generator.standard_normal((1500, 2))]
    ).astype(float)
    y = x @ [1.0, 0.3, -0.2, 0.1] + generator.standard_normal(300)[cluster]
    return x, y + generator.standard_normal(1500), cluster


def test_series_equals_roots(data, monkeypatch):
    by_roots = clusters.cluster_robust_least_squares(*data)
    monkeypatch.setattr(bell_mccaffrey, "MANY_CLUSTERS", 10)
    by_series = clusters.cluster_robust_least_squares(*data)
    assert not np.array_equal(by_series.covariance, by_roots.covariance)
    np.testing.assert_allclose(by_series.covariance, by_roots.covariance, rtol=1e-9, atol=1e-15)
    np.testing.assert_allclose(
        by_series.degrees_of_freedom, by_roots.degrees_of_freedom, rtol=1e-9
    )


def test_only_wanted_degrees_of_freedom_cost_a_pass(data, monkeypatch):
    monkeypatch.setattr(bell_mccaffrey, "MANY_CLUSTERS", 10)
    found = clusters.cluster_robust_least_squares(*data, wanted=[1])
    assert np.isfinite(found.degrees_of_freedom).tolist() == [False, True, False, False]


def test_a_heavy_cluster_keeps_the_roots(data, monkeypatch):
    x, y, cluster = data
    heavy = np.where(cluster < 60, 0, cluster)
    monkeypatch.setattr(bell_mccaffrey, "MANY_CLUSTERS", 10)
    found = clusters.cluster_robust_least_squares(x, y, heavy, wanted=[1])
    assert np.isfinite(found.degrees_of_freedom).all()


def test_columns_that_differ_by_little_are_still_told_apart():
    generator = np.random.default_rng(8)
    first = generator.standard_normal(200)
    x = np.column_stack([np.ones(200), first, first + 1e-6 * generator.standard_normal(200)])
    cluster = np.arange(200) // 4
    assert clusters.cluster_robust_least_squares(x, first, cluster).valid
    same = np.column_stack([np.ones(200), first, first])
    assert not clusters.cluster_robust_least_squares(same, first, cluster).valid
