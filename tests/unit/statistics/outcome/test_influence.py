"""Leaving out one patient: exact for linear models, near the refit for logistic ones."""

import numpy as np
import pytest

from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.influence import cluster_influence

TERMS = ("intercept", "a", "b")


def clustered(seed: int = 5) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return predictor noise, design and patient of 300 rows in 60 patients."""
    draw = np.random.default_rng(seed)
    patient = np.minimum(draw.geometric(0.05, 300), 60)
    design = np.column_stack(
        [np.ones(300), draw.integers(0, 2, 300), draw.standard_normal(300)]
    )
    predictor = design @ [-0.8, 0.6, 0.3] + 0.6 * draw.standard_normal(61)[patient]
    return draw.standard_normal(300), predictor, design, patient


def refits(outcome, design, patient, **options) -> np.ndarray:
    full = fit_gee(outcome, design, patient, terms=TERMS, **options)
    order = list(dict.fromkeys(patient.tolist()))
    moved = []
    for left_out in order:
        kept = patient != left_out
        part = fit_gee(outcome[kept], design[kept], patient[kept], terms=TERMS, **options)
        moved.append(part.vector() - full.vector())
    return np.array(moved).T


def test_one_step_is_exact_for_a_linear_model_of_independent_rows():
    noise, predictor, design, patient = clustered()
    outcome = predictor + noise
    options = {"family": "gaussian", "correlation": "independence"}
    fit = fit_gee(outcome, design, patient, terms=TERMS, **options)
    found = cluster_influence(outcome, design, patient, fit)
    expected = refits(outcome, design, patient, **options)
    assert found.changes == pytest.approx(expected, abs=1e-10)


def test_one_step_stands_close_to_the_refit_of_a_logistic_model():
    _, predictor, design, patient = clustered()
    uniform = np.random.default_rng(8).random(300)
    outcome = (uniform < 1 / (1 + np.exp(-predictor))).astype(float)
    fit = fit_gee(outcome, design, patient, terms=TERMS)
    found = cluster_influence(outcome, design, patient, fit)
    expected = refits(outcome, design, patient)
    for term in range(3):
        assert np.corrcoef(found.changes[term], expected[term])[0, 1] > 0.98
    furthest = np.abs(expected[1]).max()
    assert np.abs(found.changes[1]).max() == pytest.approx(furthest, rel=0.15)
    assert found.lowest("a").estimate < fit.coefficient("a").estimate
    assert found.highest("a").estimate > fit.coefficient("a").estimate
    assert found.largest_in_errors("a") == pytest.approx(
        np.abs(found.changes[1]).max() / fit.standard_errors[1]
    )


def test_one_patient_that_decides_a_coefficient_is_a_reason():
    _, _, design, patient = clustered()
    design = design.copy()
    design[:, 1] = patient == patient[0]
    outcome = np.arange(300.0) % 2
    fit = fit_gee(outcome, design, patient, terms=TERMS, covariance="robust")
    found = cluster_influence(outcome, design, patient, fit)
    assert not found.valid
    assert "one patient alone" in found.lowest("a").reason


def test_without_a_fit_there_is_its_reason():
    fit = fit_gee(np.ones(20), np.ones((20, 1)), np.arange(20), terms=("intercept",))
    found = cluster_influence(np.ones(20), np.ones((20, 1)), np.arange(20), fit)
    assert not found.valid
    assert found.reason == fit.reason
