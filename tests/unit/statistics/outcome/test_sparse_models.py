"""Separation, penalised fits and the number of covariates events can carry."""

import numpy as np
import pytest

from lengthwise.statistics.outcome.firth import fit_firth
from lengthwise.statistics.outcome.model_plan import CovariateGroup, plan_model
from lengthwise.statistics.outcome.separation import separating_columns

LESION = CovariateGroup("lesion", (0,))
TOOTH = CovariateGroup("tooth type", (1, 2, 3))
MONTHS = CovariateGroup("months", (4,))


def names(groups: tuple[CovariateGroup, ...]) -> list[str]:
    return [group.name for group in groups]


@pytest.mark.parametrize(
    ("events", "kept", "parameters"),
    [
        (20, [], 2),
        (29, [], 2),
        (30, ["lesion"], 3),
        (59, ["lesion"], 3),
        (60, ["lesion", "tooth type"], 6),
        (70, ["lesion", "tooth type", "months"], 7),
    ],
)
def test_covariates_enter_in_the_declared_order(
    events: int, kept: list[str], parameters: int
) -> None:
    plan = plan_model(events, 1000, 2, (LESION, TOOTH, MONTHS))
    assert names(plan.kept) == kept
    assert plan.parameters == parameters
    assert plan.events_per_parameter >= 10
    assert not plan.penalised


def test_a_smaller_group_does_not_jump_the_queue() -> None:
    plan = plan_model(45, 1000, 2, (TOOTH, MONTHS))
    assert names(plan.dropped) == ["tooth type", "months"]
    assert "left out: tooth type, months" in plan.reason


def test_the_scarcer_side_counts() -> None:
    assert plan_model(980, 1000, 2, (LESION,)).events == 20
    refused = plan_model(997, 1000, 2, (LESION,))
    assert not refused.valid
    assert "3 rows without the event" in refused.reason


def test_few_events_for_the_level_alone_mean_a_penalised_fit() -> None:
    plan = plan_model(19, 1000, 2, (LESION,))
    assert plan.valid
    assert plan.penalised
    assert "penalised" in plan.reason


@pytest.mark.parametrize("events", [0, 4])
def test_below_five_events_there_is_no_model(events: int) -> None:
    plan = plan_model(events, 1000, 2, (LESION,))
    assert not plan.valid
    assert "crude table only" in plan.reason


def test_plan_misuse_raises() -> None:
    with pytest.raises(ValueError):
        plan_model(10, 5, 2, ())


def test_only_the_guilty_columns_are_named() -> None:
    y = np.array([0, 1, 0, 1, 0, 1, 0, 0, 0, 0])
    level = np.repeat([0.0, 1.0], [6, 4])
    other = np.array([0, 0, 1, 1, 2, 2, 0, 1, 2, 3.0])
    x = np.column_stack([np.ones(10), level, other])
    assert separating_columns(y, x) == (False, True, False)
    assert separating_columns(np.zeros(10), x) == (True, True, True)


def test_scale_of_a_column_does_not_change_the_verdict() -> None:
    y = np.array([0, 0, 0, 1, 1, 1])
    x = np.column_stack([np.ones(6), 1e-7 * np.arange(6)])
    assert separating_columns(y, x) == (True, True)


def test_firth_does_not_depend_on_the_unit() -> None:
    generator = np.random.default_rng(5)
    length = generator.normal(20, 2, 60)
    y = (generator.random(60) < 0.3).astype(float)
    x = np.column_stack([np.ones(60), length])
    in_mm = fit_firth(y, x, terms=("intercept", "length")).fit
    in_um = fit_firth(y, x * [1, 1000], terms=("intercept", "length")).fit
    assert in_um.coefficients[1].estimate * 1000 == pytest.approx(
        in_mm.coefficients[1].estimate, rel=1e-5
    )
    assert in_um.coefficients[1].upper * 1000 == pytest.approx(
        in_mm.coefficients[1].upper, rel=1e-5
    )
    assert in_um.p_values == pytest.approx(in_mm.p_values, rel=1e-5)
    # The penalty holds half the log determinant of the information, which a unit shifts.
    shift = np.log(1000)
    assert in_um.log_likelihood - in_mm.log_likelihood == pytest.approx(shift, rel=1e-6)


def test_the_covariance_belongs_to_the_standard_errors() -> None:
    generator = np.random.default_rng(6)
    x = np.column_stack([np.ones(40), generator.standard_normal(40)])
    y = (generator.random(40) < 0.4).astype(float)
    found = fit_firth(y, x, terms=("intercept", "x"))
    covariance = found.fit.covariance_array()
    assert np.sqrt(np.diag(covariance)) == pytest.approx(found.fit.standard_errors)
    assert covariance[0, 1] != 0
    assert found.ordinary_exists
