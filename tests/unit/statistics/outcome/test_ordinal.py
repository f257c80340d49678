"""Ordered outcomes: the model, and two checks of its assumption."""

import warnings

import numpy as np
import pytest
from statsmodels.miscmodels.ordinal_model import OrderedModel

from lengthwise.statistics.outcome.brant import brant_test
from lengthwise.statistics.outcome.ordinal import fit_proportional_odds, parallel_test
from lengthwise.statistics.outcome.regression import fit_logistic

TERMS = ("short", "beyond")


def readings(n: int = 600, parallel: bool = True) -> tuple[np.ndarray, np.ndarray]:
    generator = np.random.default_rng(21)
    level = generator.integers(0, 3, n)
    x = np.column_stack([level == 1, level == 2]).astype(float)
    noise = generator.logistic(size=n)
    spread = 1.0 if parallel else 1.0 + 3.0 * x[:, 0]
    return np.digitize(x @ [0.8, 0.3] + spread * noise, [-1.0, 0.2, 1.3, 2.5]) + 1, x


def test_equals_statsmodels() -> None:
    pai, x = readings()
    ours = fit_proportional_odds(pai, x, terms=TERMS)
    model = OrderedModel(pai, x, distr="logit")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = model.fit(method="newton", disp=False, maxiter=200)
    assert ours.vector()[:2] == pytest.approx(theirs.params[:2], rel=1e-6)
    assert ours.vector()[2:] == pytest.approx(
        model.transform_threshold_params(theirs.params)[1:-1], rel=1e-6
    )
    assert ours.standard_errors[:2] == pytest.approx(theirs.bse[:2], rel=1e-4)
    assert ours.log_likelihood == pytest.approx(theirs.llf, rel=1e-9)


def test_two_categories_are_a_logistic_regression() -> None:
    pai, x = readings()
    ordinal = fit_proportional_odds(pai > 2, x, terms=TERMS)
    binary = fit_logistic(pai > 2, np.column_stack([np.ones(len(x)), x]), terms=("i", *TERMS))
    assert ordinal.vector()[:2] == pytest.approx(binary.vector()[1:], rel=1e-7)
    assert ordinal.standard_errors[:2] == pytest.approx(binary.standard_errors[1:], rel=1e-6)


def test_weights_are_frequencies() -> None:
    pai, x = readings(120)
    weights = np.arange(120) % 3 + 1
    weighted = fit_proportional_odds(pai, x, terms=TERMS, weights=weights)
    repeated = fit_proportional_odds(
        np.repeat(pai, weights), np.repeat(x, weights, axis=0), terms=TERMS
    )
    assert weighted.vector() == pytest.approx(repeated.vector(), rel=1e-7)
    assert weighted.standard_errors == pytest.approx(repeated.standard_errors, rel=1e-6)


def test_both_checks_pass_a_parallel_and_catch_another() -> None:
    good, bad = readings(3000), readings(3000, parallel=False)
    assert parallel_test(*good).p_value > 0.01
    assert brant_test(*good, terms=TERMS).omnibus.p_value > 0.01
    assert parallel_test(*bad).p_value < 1e-6
    found = brant_test(*bad, terms=TERMS)
    assert found.omnibus.p_value < 1e-6
    assert found.rows[0].p_value < 1e-6
    assert found.omnibus.degrees_of_freedom == 6


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda pai, x: (np.ones_like(pai), x), "fewer than two categories"),
        (lambda pai, x: (pai, x * [1, 0]), "does not vary"),
        (lambda pai, x: (pai * np.nan, x), "fewer than two categories"),
        (lambda pai, x: (pai[:3], x[:3]), "too few"),
    ],
)
def test_refusals(change, reason: str) -> None:
    pai, x = change(*readings(60))
    fit = fit_proportional_odds(pai, x, terms=TERMS)
    assert not fit.valid
    assert reason in fit.reason
    assert not parallel_test(pai, x).valid


def test_complete_separation_has_no_maximum() -> None:
    x = np.linspace(-1, 1, 60)[:, None]
    fit = fit_proportional_odds(np.digitize(x[:, 0], [-0.3, 0.3]), x, terms=("x",))
    assert not fit.valid
    assert fit.reason


def test_a_category_at_one_level_only_has_no_check_and_says_so() -> None:
    pai, x = readings(400)
    pai = np.where((pai == 5) & (x[:, 0] == 0), 4, pai)
    found = brant_test(pai, x, terms=TERMS)
    assert not found.valid
    assert "separation" in found.reason
    assert not parallel_test(pai, x).valid


def test_two_categories_have_no_check() -> None:
    pai, x = readings()
    assert "fewer than three" in brant_test(pai > 2, x, terms=TERMS).reason
    assert "single cut" in parallel_test(pai > 2, x).reason


def test_missing_rows_are_counted() -> None:
    pai, x = readings(200)
    values = pai.astype(float)
    values[:3], x[5, 0] = np.nan, np.nan
    assert fit_proportional_odds(values, x, terms=TERMS).n_missing == 4
    assert brant_test(values, x, terms=TERMS).n_missing == 4


def test_misuse_raises() -> None:
    pai, x = readings(50)
    with pytest.raises(ValueError):
        fit_proportional_odds(pai, x, terms=("short",))
    with pytest.raises(ValueError):
        brant_test(pai, x, terms=("short",))


def test_a_grade_never_seen_at_the_reference_is_refused_by_slopes_by_cut() -> None:
    # Index, short, beyond, teeth: index 5 is not seen at the reference.
    seen = [
        (1, 0, 0, 15), (1, 0, 1, 6), (1, 1, 0, 6), (2, 0, 0, 9), (2, 0, 1, 6), (2, 1, 0, 3),
        (3, 0, 0, 7), (3, 0, 1, 3), (3, 1, 0, 2), (4, 0, 0, 4), (4, 0, 1, 1), (4, 1, 0, 3),
        (5, 0, 1, 2), (5, 1, 0, 2),
    ]  # fmt: skip
    table = np.array([row[:3] for row in seen for _ in range(row[3])], dtype=float)
    generator = np.random.default_rng(3)
    for _ in range(4):
        # Whatever the order of rows: the slope that runs away stops at its own rounding.
        check = parallel_test(table[:, 0], table[:, 1:])
        assert not check.valid
        assert check.reason == "slopes by cut: the likelihood has no single maximum"
        generator.shuffle(table)
    assert fit_proportional_odds(table[:, 0], table[:, 1:], terms=TERMS).valid
