"""Imputation, pooling and the E-value."""

import math

import numpy as np
import pytest

from lengthwise.statistics.outcome.imputation import impute_chained
from lengthwise.statistics.outcome.regression import fit_logistic
from lengthwise.statistics.outcome.rubin import pool_fits, pool_scalar
from lengthwise.statistics.outcome.sensitivity import e_value, e_value_of_difference

TERMS = ("intercept", "beyond", "lesion", "age")
KINDS = {"lesion": "binary", "age": "continuous"}


def practice(n: int = 3_000) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Lesion confounds the level; it is missing more often in teeth that failed."""
    generator = np.random.default_rng(51)
    lesion = (generator.random(n) < 0.5).astype(float)
    beyond = (generator.random(n) < 0.2 + 0.4 * lesion).astype(float)
    age = generator.normal(50, 10, n) + 5 * lesion
    risk = 1 / (1 + np.exp(-(-2 + 0.5 * beyond + 1.5 * lesion)))
    event = (generator.random(n) < risk).astype(float)
    hidden = generator.random(n) < 0.2 + 0.3 * event
    return event, beyond, np.where(hidden, np.nan, lesion), age


def imputed(seed: int = 1, **options):
    event, beyond, lesion, age = practice()
    age = np.where(np.arange(age.size) % 10 == 0, np.nan, age)
    return impute_chained(
        {"lesion": lesion, "age": age},
        KINDS,
        complete_columns=np.column_stack([event, beyond]),
        seed=seed,
        **{"n_copies": 5, "n_rounds": 3, **options},
    )


def test_known_values_stay_and_holes_are_filled_with_seen_values() -> None:
    _, _, lesion, age = practice()
    found = imputed()
    known = np.isfinite(lesion)
    assert found.copies.shape == (5, 3_000, 2)
    assert np.isfinite(found.copies).all()
    assert (found.copies[:, known, 0] == lesion[known]).all()
    assert set(np.unique(found.copies[:, :, 0])) == {0.0, 1.0}
    assert np.isin(found.copies[:, :, 1], age).all()
    assert found.missing_share[1] == pytest.approx(0.1)


def test_the_seed_decides() -> None:
    assert (imputed(seed=2).copies == imputed(seed=2).copies).all()
    assert (imputed(seed=2).copies != imputed(seed=3).copies).any()


def test_planted_effects_lie_inside_the_pooled_intervals() -> None:
    event, beyond, _, _ = practice()
    copies = imputed(n_copies=10).copies
    fits = [
        fit_logistic(event, np.column_stack([np.ones(event.size), beyond, copy]), terms=TERMS)
        for copy in copies
    ]
    pooled = {term.term: term for term in pool_fits(fits, complete_degrees=event.size - 4)}
    assert pooled["beyond"].value.lower < 0.5 < pooled["beyond"].value.upper
    assert pooled["lesion"].value.lower < 1.5 < pooled["lesion"].value.upper
    assert pooled["lesion"].fraction_missing > pooled["beyond"].fraction_missing > 0
    assert pooled["lesion"].fraction_missing < 0.8


def test_complete_columns_come_back_unchanged() -> None:
    found = impute_chained({"age": np.arange(20.0)}, {"age": "continuous"}, seed=1, n_copies=2)
    assert (found.copies[:, :, 0] == np.arange(20.0)).all()


def test_constant_and_repeated_predictors_do_no_harm() -> None:
    age = np.arange(40.0)
    twin = np.where(np.arange(40) % 4 == 0, np.nan, age)
    found = impute_chained(
        {"age": age, "twin": twin},
        {"age": "continuous", "twin": "ordered"},
        complete_columns=np.column_stack([np.ones(40), age]),
        seed=4,
        n_copies=2,
    )
    assert found.valid
    assert np.abs(found.copies[:, :, 1] - age).max() < 6


def test_too_little_to_impute_from_is_refused() -> None:
    column = np.full(50, np.nan)
    column[:4] = 1.0
    found = impute_chained({"age": column}, {"age": "continuous"}, seed=1)
    assert not found.valid
    assert "known in 4 rows only" in found.reason
    assert found.copies.shape[0] == 0


def test_imputation_misuse_raises() -> None:
    with pytest.raises(ValueError):
        impute_chained({"age": [1.0]}, {"age": "nominal"}, seed=1)
    with pytest.raises(ValueError):
        impute_chained({"age": [1.0]}, {}, seed=1)
    with pytest.raises(ValueError):
        impute_chained(
            {"age": [1.0, 2.0]}, {"age": "ordered"}, complete_columns=[1.0, np.nan], seed=1
        )


def test_equal_estimates_have_no_missing_information() -> None:
    found = pool_scalar([1.0, 1.0, 1.0], [0.04, 0.04, 0.04])
    assert found.standard_error == pytest.approx(0.2)
    assert math.isinf(found.degrees_of_freedom)
    assert found.fraction_missing == pytest.approx(0.0)


def test_one_copy_is_refused() -> None:
    found = pool_scalar([1.0], [0.04], term="age")
    assert not found.value.valid
    assert "two imputations" in found.value.reason


def test_refused_fits_are_left_out_of_the_pool() -> None:
    y, x = np.array([0, 1] * 20), np.column_stack([np.ones(40), np.arange(40) % 3])
    good = fit_logistic(y, x, terms=("i", "x"))
    bad = fit_logistic(y * 0, x, terms=("i", "x"))
    assert pool_fits([good, good, bad])[0].value.valid
    assert not pool_fits([good, bad])[0].value.valid
    with pytest.raises(ValueError):
        pool_fits([])


def test_e_value_of_no_association_is_one() -> None:
    found = e_value(1.0, 0.8, 1.3)
    assert (found.estimate, found.limit) == (1.0, 1.0)


def test_e_value_does_not_mind_the_direction() -> None:
    there, back = e_value(2.0, 1.5, 3.0), e_value(0.5, 1 / 3, 1 / 1.5)
    assert there.estimate == pytest.approx(back.estimate)
    assert there.limit == pytest.approx(back.limit)


@pytest.mark.parametrize("values", [(math.nan,) * 3, (0.0, 0.0, 1.0), (-1.0, 0.1, 2.0)])
def test_e_value_refusals(values: tuple[float, float, float]) -> None:
    found = e_value(*values)
    assert not found.valid
    assert found.reason


def test_e_value_misuse_and_difference() -> None:
    with pytest.raises(ValueError):
        e_value(2.0, 1.0, 3.0, measure="SMD")
    assert not e_value_of_difference(math.nan, 0.1).valid
    assert e_value_of_difference(0.0, 0.1).limit == 1.0
    # Common hazard ratio of 2: (1 - 0.5^sqrt 2) / (1 - 0.5^sqrt 0.5), VanderWeele & Ding 2017.
    ratio = (1 - 0.5 ** math.sqrt(2)) / (1 - 0.5 ** math.sqrt(0.5))
    found = e_value(2.0, 1.5, 2.5, measure="HR_common")
    assert found.estimate == pytest.approx(ratio + math.sqrt(ratio * (ratio - 1)))
