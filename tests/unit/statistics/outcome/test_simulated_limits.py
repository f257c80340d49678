"""The words beside an interval that does not hold 95 in 100 in simulation."""

import numpy as np
import pytest

from lengthwise.statistics.outcome.adjusted import adjusted_association
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.model_plan import CovariateGroup
from lengthwise.statistics.outcome.simulated_limits import simulated_limit


def fitted(n: int, events: int, patients: int):
    """Return a fit of so many rows, events and patients."""
    outcome = np.zeros(n)
    outcome[np.linspace(0, n - 1, events).astype(int)] = 1
    design = np.column_stack([np.ones(n), np.arange(n) % 2])
    return fit_gee(outcome, design, np.arange(n) % patients, terms=("intercept", "short"))


@pytest.mark.parametrize(
    ("events", "patients", "penalised", "is_difference", "words"),
    [
        (9, 80, False, False, "fewer than 10 events"),
        (11, 80, False, False, ""),
        (229, 80, False, True, ""),
        (231, 80, False, True, "fewer than 10 events"),
        (60, 49, True, True, "fewer than 50 patients"),
        (60, 49, True, False, ""),
        (60, 49, False, True, ""),
        (60, 50, True, True, ""),
    ],
)
def test_limits_stand_where_simulation_found_them(
    events, patients, penalised, is_difference, words
):
    found = simulated_limit(
        fitted(240, events, patients), penalised=penalised, is_difference=is_difference
    )
    assert words in found
    assert bool(found) == bool(words)


def test_few_events_that_are_not_rare_are_not_called_wide():
    few = fitted(30, 9, 25)
    assert simulated_limit(few, penalised=False, is_difference=False) == ""
    assert "narrow" in simulated_limit(few, penalised=True, is_difference=True)


def test_a_fit_that_is_refused_has_no_interval_to_speak_of():
    assert simulated_limit(fitted(10, 10, 10), penalised=False, is_difference=True) == ""


def test_the_penalised_fit_counts_the_patients_it_was_given():
    random = np.random.default_rng(2)
    exposure = random.integers(0, 2, (60, 1)).astype(float)
    outcome = (np.arange(60) % 9 == 4).astype(float)
    found = adjusted_association(
        outcome, exposure, np.zeros((60, 0)), np.arange(60) // 3, exposure_terms=("short",),
        covariate_terms=(), covariate_order=[CovariateGroup("none", ())],
    )  # fmt: skip
    assert found.penalised
    assert (found.fit.n_used, found.fit.n_clusters) == (60, 20)
