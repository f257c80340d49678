"""The estimating equations against statsmodels and against the dense formulas."""

import math
import warnings

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.linalg import fractional_matrix_power

from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.rows import inverse_cluster_sizes

TERMS = ("intercept", "a", "b")
FAMILIES = {
    "binomial": sm.families.Binomial,
    "poisson": sm.families.Poisson,
    "gaussian": sm.families.Gaussian,
}


def clustered(
    family: str, n: int = 400, patients: int = 90, seed: int = 3
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return outcome, design and patient of rows in no order, in clusters of uneven size."""
    generator = np.random.default_rng(seed)
    patient = np.minimum(generator.geometric(0.03, n), patients)
    x = np.column_stack([np.ones(n), generator.integers(0, 2, n), generator.standard_normal(n)])
    predictor = x @ [-0.4, 0.5, 0.3] + 0.7 * generator.standard_normal(patients + 1)[patient]
    if family == "binomial":
        y = (generator.random(n) < 1 / (1 + np.exp(-predictor))).astype(float)
    elif family == "poisson":
        y = generator.poisson(np.exp(predictor)).astype(float)
    else:
        y = predictor + generator.standard_normal(n)
    return y, x, patient


def statsmodels_fit(
    y: np.ndarray, x: np.ndarray, patient: np.ndarray, family: str, correlation: str, **options
):
    structure = {
        "exchangeable": sm.cov_struct.Exchangeable,
        "independence": sm.cov_struct.Independence,
    }[correlation]
    weights = options.pop("weights", None)
    model = sm.GEE(
        y, x, patient, family=FAMILIES[family](), cov_struct=structure(), weights=weights
    )
    with warnings.catch_warnings():
        # Its own stopping rule is pushed to the last digit and may not be met.
        warnings.simplefilter("ignore")
        return model.fit(ctol=1e-11, maxiter=200, **options)


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("correlation", ["exchangeable", "independence"])
def test_equals_statsmodels(family: str, correlation: str) -> None:
    y, x, patient = clustered(family)
    ours = fit_gee(
        y, x, patient, terms=TERMS, family=family, correlation=correlation, covariance="robust"
    )
    theirs = statsmodels_fit(y, x, patient, family, correlation)
    assert ours.vector() == pytest.approx(theirs.params, rel=1e-8, abs=1e-10)
    assert ours.standard_errors == pytest.approx(theirs.bse, rel=1e-8)
    assert np.array(ours.model_covariance) == pytest.approx(theirs.cov_naive, rel=1e-7)
    if correlation == "exchangeable":
        assert ours.working_correlation == pytest.approx(theirs.cov_struct.dep_params, rel=1e-7)


@pytest.mark.parametrize("correlation", ["exchangeable", "independence"])
def test_mancl_derouen_equals_statsmodels(correlation: str) -> None:
    y, x, patient = clustered("binomial", n=120, patients=30)
    ours = fit_gee(
        y, x, patient, terms=TERMS, correlation=correlation, covariance="mancl_derouen"
    )
    theirs = statsmodels_fit(y, x, patient, "binomial", correlation, cov_type="bias_reduced")
    assert ours.standard_errors == pytest.approx(theirs.bse, rel=1e-8)


def test_row_weights_equal_statsmodels() -> None:
    y, x, patient = clustered("binomial")
    weights = np.random.default_rng(8).uniform(0.2, 3, y.size)
    ours = fit_gee(
        y,
        x,
        patient,
        terms=TERMS,
        correlation="independence",
        covariance="robust",
        weights=weights,
    )
    theirs = statsmodels_fit(y, x, patient, "binomial", "independence", weights=weights)
    assert ours.vector() == pytest.approx(theirs.params, rel=1e-8)
    assert ours.standard_errors == pytest.approx(theirs.bse, rel=1e-8)


@pytest.mark.parametrize(
    ("covariance", "power"), [("mancl_derouen", -1.0), ("kauermann_carroll", -0.5)]
)
def test_corrections_equal_the_dense_formula(covariance: str, power: float) -> None:
    y, x, patient = clustered("binomial", n=80, patients=20)
    fit = fit_gee(y, x, patient, terms=TERMS, covariance=covariance)
    risk = 1 / (1 + np.exp(-x @ fit.vector()))
    parts = []
    for label in np.unique(patient):
        own = patient == label
        variance = risk[own] * (1 - risk[own])
        derivative = x[own] * variance[:, None]
        size = int(own.sum())
        shared = np.full((size, size), fit.working_correlation)
        np.fill_diagonal(shared, 1.0)
        root = np.diag(np.sqrt(variance))
        inverse = np.linalg.inv(root @ shared @ root)
        parts.append((derivative, inverse, (y - risk)[own]))
    bread = sum(d.T @ v @ d for d, v, _ in parts)
    middle = np.zeros_like(bread)
    for derivative, inverse, residual in parts:
        leverage = derivative @ np.linalg.inv(bread) @ derivative.T @ inverse
        factor = fractional_matrix_power(np.eye(residual.size) - leverage, power)
        score = derivative.T @ inverse @ np.real(factor) @ residual
        middle += np.outer(score, score)
    expected = np.linalg.inv(bread) @ middle @ np.linalg.inv(bread)
    assert fit.covariance_array() == pytest.approx(expected, rel=1e-7)


def test_few_clusters_take_the_corrected_covariance_and_t() -> None:
    y, x, patient = clustered("binomial", n=120, patients=30)
    fit = fit_gee(y, x, patient, terms=TERMS)
    assert fit.n_clusters < 50
    assert fit.degrees_of_freedom == fit.n_clusters - 3
    assert "Mancl-DeRouen" in fit.method
    plain = fit_gee(y, x, patient, terms=TERMS, covariance="robust")
    assert fit.standard_errors[1] > plain.standard_errors[1]


def test_many_clusters_take_the_plain_covariance_and_normal() -> None:
    y, x, _ = clustered("binomial")
    fit = fit_gee(y, x, np.arange(400) // 4, terms=TERMS)
    assert math.isinf(fit.degrees_of_freedom)
    assert "robust covariance" in fit.method


def test_missing_values_are_set_aside_and_counted() -> None:
    y, x, patient = clustered("binomial")
    labels = patient.astype(object)
    y[3], x[5, 1], labels[7] = np.nan, np.nan, None
    kept = np.setdiff1d(np.arange(400), [3, 5, 7])
    fit = fit_gee(y, x, labels, terms=TERMS)
    again = fit_gee(y[kept], x[kept], patient[kept], terms=TERMS)
    assert (fit.n_missing, fit.n_used) == (3, 397)
    assert fit.vector() == pytest.approx(again.vector(), rel=1e-9)


def test_blocks_do_not_change_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    y, x, patient = clustered("binomial")
    whole = fit_gee(y, x, patient, terms=TERMS, covariance="kauermann_carroll")
    monkeypatch.setattr("lengthwise.statistics.outcome.rows.BLOCK_ROWS", 7)
    parts = fit_gee(y, x, patient, terms=TERMS, covariance="kauermann_carroll")
    assert parts.vector() == pytest.approx(whole.vector(), rel=1e-9)
    assert parts.standard_errors == pytest.approx(whole.standard_errors, rel=1e-9)


def test_one_tooth_a_patient_gives_independence_and_says_so() -> None:
    y, x, _ = clustered("binomial")
    fit = fit_gee(y, x, np.arange(400), terms=TERMS)
    alone = fit_gee(y, x, np.arange(400), terms=TERMS, correlation="independence")
    assert fit.vector() == pytest.approx(alone.vector(), rel=1e-9)
    assert "no patient has two rows" in fit.reason


@pytest.mark.parametrize(
    "options",
    [
        {"correlation": "unstructured"},
        {"covariance": "HC3"},
        {"family": "gamma"},
        {"weights": np.ones(400)},
        {"weights": -np.ones(400), "correlation": "independence"},
    ],
)
def test_misuse_raises(options: dict) -> None:
    y, x, patient = clustered("binomial")
    with pytest.raises(ValueError):
        fit_gee(y, x, patient, terms=TERMS, **options)


def test_wrong_shapes_raise() -> None:
    y, x, patient = clustered("binomial")
    with pytest.raises(ValueError):
        fit_gee(y[:-1], x, patient, terms=TERMS)
    with pytest.raises(ValueError):
        fit_gee(y, x, patient[:-1], terms=TERMS)
    with pytest.raises(ValueError):
        fit_gee(y, x, patient, terms=TERMS[:-1])
    with pytest.raises(ValueError, match="0 or 1"):
        fit_gee(y + 1, x, patient, terms=TERMS)


def test_inverse_sizes_let_each_patient_count_once() -> None:
    weights = inverse_cluster_sizes(["a", "b", "a", None, "b", "b"])
    assert weights == pytest.approx([1 / 2, 1 / 3, 1 / 2, np.nan, 1 / 3, 1 / 3], nan_ok=True)
