"""Degenerate inputs get a reason, never an exception and never a bare NaN."""

import math

import numpy as np
import pytest

from lengthwise.statistics.outcome.adjusted import adjusted_association
from lengthwise.statistics.outcome.attributable import attributable_fraction
from lengthwise.statistics.outcome.dose_response import piecewise_response, spline_response
from lengthwise.statistics.outcome.firth import fit_firth
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.model_plan import CovariateGroup
from lengthwise.statistics.outcome.regression import fit_logistic
from lengthwise.statistics.outcome.standardisation import designs_by_level, standardised_risks

N = 120
TERMS = ("intercept", "short", "beyond", "age")


def practice() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    generator = np.random.default_rng(11)
    level = generator.integers(0, 3, N)
    x = np.column_stack(
        [np.ones(N), level == 1, level == 2, generator.normal(50, 10, N)]
    ).astype(float)
    y = (generator.random(N) < 0.3).astype(float)
    return y, x, np.arange(N) // 2


def all_healed(y, x, cluster):
    return np.zeros(N), x, cluster


def none_healed(y, x, cluster):
    return np.ones(N), x, cluster


def one_patient(y, x, cluster):
    return y, x, np.zeros(N)


def as_few_patients_as_coefficients(y, x, cluster):
    return y, x, np.arange(N) % 4


def constant_covariate(y, x, cluster):
    x[:, 3] = 50.0
    return y, x, cluster


def level_empty(y, x, cluster):
    x[:, 2] = 0.0
    return y, x, cluster


def repeated_column(y, x, cluster):
    x[:, 3] = x[:, 1] + x[:, 2]
    return y, x, cluster


def all_lost(y, x, cluster):
    return np.full(N, np.nan), x, cluster


def no_rows(y, x, cluster):
    return y[:0], x[:0], cluster[:0]


def three_rows(y, x, cluster):
    return np.array([0.0, 1.0, 0.0]), x[:3], cluster[:3]


def complete_separation(y, x, cluster):
    return (x[:, 3] > np.median(x[:, 3])).astype(float), x, cluster


def no_event_in_a_level(y, x, cluster):
    y[x[:, 2] == 1] = 0.0
    return y, x, cluster


CASES = {
    all_healed: "no row has the event",
    none_healed: "every row has the event",
    one_patient: "too few for 4 coefficients",
    as_few_patients_as_coefficients: "too few for 4 coefficients",
    constant_covariate: "does not vary",
    level_empty: "one level is empty",
    repeated_column: "repeats others",
    all_lost: "no complete row",
    no_rows: "no complete row",
    three_rows: "too few",
    complete_separation: "separation",
    no_event_in_a_level: "separation",
}


@pytest.mark.parametrize("make", CASES, ids=lambda make: make.__name__)
def test_gee_refuses_with_a_reason(make) -> None:
    y, x, cluster = make(*practice())
    fit = fit_gee(y, x, cluster, terms=TERMS)
    assert not fit.valid
    assert CASES[make] in fit.reason
    item = fit.coefficient("short")
    assert not item.valid
    assert item.reason == fit.reason
    assert not fit.ratio("short").valid


@pytest.mark.parametrize("make", CASES, ids=lambda make: make.__name__)
def test_what_rests_on_a_fit_passes_its_reason_on(make) -> None:
    y, x, cluster = make(*practice())
    levels = {"within": {1: 0, 2: 0}, "short": {1: 1, 2: 0}}
    fit = fit_gee(y, x, cluster, terms=TERMS)
    risks = standardised_risks(fit, designs_by_level(x, levels), reference="within")
    assert (risks.valid, risks.reason) == (False, fit.reason)
    unexposed = designs_by_level(x, levels)["within"]
    fraction = attributable_fraction(y, x, unexposed, cluster, terms=TERMS).fraction
    assert not fraction.valid
    assert fraction.reason


@pytest.mark.parametrize(
    "make",
    [all_healed, none_healed, constant_covariate, level_empty, all_lost, no_rows, three_rows],
    ids=lambda make: make.__name__,
)
def test_firth_refuses_what_no_penalty_can_mend(make) -> None:
    y, x, _ = make(*practice())
    found = fit_firth(y, x, terms=TERMS)
    assert not found.fit.valid
    assert CASES[make] in found.fit.reason


@pytest.mark.parametrize(
    "make", [complete_separation, no_event_in_a_level], ids=lambda make: make.__name__
)
def test_firth_answers_separation_and_names_the_terms(make) -> None:
    y, x, _ = make(*practice())
    found = fit_firth(y, x, terms=TERMS)
    assert found.fit.valid
    assert not found.ordinary_exists
    assert "separation" in found.fit.reason
    assert all(math.isfinite(item.estimate) for item in found.fit.coefficients)


AGE = (CovariateGroup("age", (0,)),)


def adjusted(y, x, cluster):
    return adjusted_association(
        y,
        x[:, 1:3],
        x[:, 3:],
        cluster,
        exposure_terms=("short", "beyond"),
        covariate_terms=("age",),
        covariate_order=AGE,
    )


@pytest.mark.parametrize(
    "make",
    [all_healed, none_healed, level_empty, all_lost, no_rows],
    ids=lambda make: make.__name__,
)
def test_the_adjusted_association_refuses_with_a_reason(make) -> None:
    found = adjusted(*make(*practice()))
    assert not found.fit.valid
    assert found.fit.reason
    assert found.reason


def test_fewer_than_five_events_give_the_crude_table_only() -> None:
    y, x, cluster = practice()
    y[:] = 0.0
    y[:4] = 1.0
    found = adjusted(y, x, cluster)
    assert not found.fit.valid
    assert found.reason == "4 events, fewer than 5: crude table only"


def test_few_events_leave_covariates_out_and_penalise() -> None:
    y, x, cluster = practice()
    y[:] = 0.0
    y[::9] = 1.0
    found = adjusted(y, x, cluster)
    assert found.fit.valid
    assert found.penalised
    assert found.columns == ()
    assert "left out: age" in found.reason


def test_enough_events_keep_the_covariates_and_the_clusters() -> None:
    found = adjusted(*practice())
    assert found.fit.valid
    assert not found.penalised
    assert found.fit.terms == TERMS
    assert found.fit.n_clusters == 60


def test_separation_switches_to_the_penalised_fit() -> None:
    found = adjusted(*no_event_in_a_level(*practice()))
    assert found.fit.valid
    assert found.penalised
    assert "separation" in found.reason


@pytest.mark.parametrize(
    ("x", "reason"),
    [(np.full(N, np.nan), "no offset"), (np.zeros(N), "too alike"), (np.ones(N), "too alike")],
)
def test_a_curve_without_spread_is_refused(x: np.ndarray, reason: str) -> None:
    y, _, cluster = practice()
    found = spline_response(y, x, at=[-1.0, 0.0], cluster=cluster)
    assert not found.valid
    assert reason in found.reason
    assert found.curve == ()


def test_lines_on_one_side_only_are_refused() -> None:
    y, x, cluster = practice()
    found = piecewise_response(y, -np.abs(x[:, 3]), cluster=cluster)
    assert not found.valid
    assert found.below is None
    assert "empty" in found.reason


def test_a_patient_who_alone_decides_a_level_is_named() -> None:
    y, x, cluster = practice()
    x[:, 2] = (cluster == 0).astype(float)
    x[:, 1] *= 1 - x[:, 2]
    y[:2] = [0.0, 1.0]
    fit = fit_gee(y, x, cluster, terms=TERMS, covariance="mancl_derouen")
    assert not fit.valid
    assert "one patient alone decides" in fit.reason


def test_regression_without_clusters_does_not_ask_for_patients() -> None:
    y, x, _ = practice()
    assert fit_logistic(y, x, terms=TERMS).valid
