"""What must not change, or must change in one known way, in the outcome statistics."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lengthwise.statistics.outcome.crude_ratios import odds_ratio, risk_ratio
from lengthwise.statistics.outcome.crude_table import crude_table
from lengthwise.statistics.outcome.exact_table import exact_p_value
from lengthwise.statistics.outcome.followup_bounds import followup_bounds
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.rubin import pool_scalar
from lengthwise.statistics.outcome.sensitivity import e_value
from lengthwise.statistics.outcome.standardisation import designs_by_level, standardised_risks
from lengthwise.statistics.outcome.survival import kaplan_meier
from lengthwise.statistics.outcome.turnbull import turnbull

COUNTS = st.integers(1, 40).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
SEEDS = st.integers(0, 10_000)
CORRELATIONS = st.sampled_from(["exchangeable", "independence"])
COVARIANCES = st.sampled_from(["robust", "mancl_derouen", "kauermann_carroll"])
TERMS = ("intercept", "short", "months")


def teeth(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    generator = np.random.default_rng(seed)
    n = int(generator.integers(60, 140))
    patient = generator.integers(0, n // 2, n)
    x = np.column_stack(
        [np.ones(n), generator.integers(0, 2, n), generator.normal(30, 8, n)]
    ).astype(float)
    y = (generator.random(n) < 0.35).astype(float)
    return y, x, patient


@settings(max_examples=25, deadline=None)
@given(SEEDS, CORRELATIONS, COVARIANCES)
def test_order_and_names_of_patients_do_not_matter(
    seed: int, correlation: str, covariance: str
) -> None:
    y, x, patient = teeth(seed)
    options = {"terms": TERMS, "correlation": correlation, "covariance": covariance}
    plain = fit_gee(y, x, patient, **options)
    order = np.random.default_rng(seed + 1).permutation(y.size)
    names = np.array([f"p{number * 7 % 1009}" for number in patient])
    moved = fit_gee(y[order], x[order], names[order], **options)
    assert plain.valid == moved.valid
    if plain.valid:
        assert moved.vector() == pytest.approx(plain.vector(), rel=1e-7, abs=1e-9)
        assert moved.standard_errors == pytest.approx(plain.standard_errors, rel=1e-7)


@settings(max_examples=25, deadline=None)
@given(SEEDS, CORRELATIONS)
def test_healed_instead_of_not_healed_flips_the_sign(seed: int, correlation: str) -> None:
    y, x, patient = teeth(seed)
    there = fit_gee(y, x, patient, terms=TERMS, correlation=correlation)
    back = fit_gee(1 - y, x, patient, terms=TERMS, correlation=correlation)
    assert there.valid == back.valid
    if there.valid:
        assert back.vector() == pytest.approx(-there.vector(), rel=1e-7, abs=1e-9)
        assert back.standard_errors == pytest.approx(there.standard_errors, rel=1e-7)


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.sampled_from([1 / 12, 10.0, 1000.0]))
def test_the_unit_of_a_covariate_scales_its_coefficient_only(seed: int, unit: float) -> None:
    y, x, patient = teeth(seed)
    plain = fit_gee(y, x, patient, terms=TERMS)
    scaled = fit_gee(y, x * [1, 1, unit], patient, terms=TERMS)
    assert plain.valid == scaled.valid
    if plain.valid:
        expected = plain.vector() / [1, 1, unit]
        assert scaled.vector() == pytest.approx(expected, rel=1e-6, abs=1e-10)
        assert scaled.p_values == pytest.approx(plain.p_values, rel=1e-5, abs=1e-12)


@settings(max_examples=25, deadline=None)
@given(SEEDS)
def test_the_choice_of_reference_does_not_move_standardised_risks(seed: int) -> None:
    y, x, patient = teeth(seed)
    other = x.copy()
    other[:, 1] = 1 - other[:, 1]
    levels = {"within": {1: 0}, "short": {1: 1}}
    swapped = {"within": {1: 1}, "short": {1: 0}}
    one = fit_gee(y, x, patient, terms=TERMS)
    two = fit_gee(y, other, patient, terms=TERMS)
    if not one.valid:
        assert not two.valid
        return
    first = standardised_risks(one, designs_by_level(x, levels), reference="within")
    second = standardised_risks(two, designs_by_level(other, swapped), reference="short")
    for name in levels:
        assert first.row(name).risk.estimate == pytest.approx(
            second.row(name).risk.estimate, rel=1e-6
        )
    there, back = first.row("short").difference, second.row("within").difference
    assert there.estimate == pytest.approx(-back.estimate, rel=1e-5, abs=1e-9)
    assert there.lower == pytest.approx(-back.upper, rel=1e-5, abs=1e-9)


@given(COUNTS, COUNTS)
def test_swapping_levels_inverts_the_ratios(one: tuple[int, int], two: tuple[int, int]) -> None:
    for ratio in (odds_ratio, risk_ratio):
        there, back = ratio(*one, *two), ratio(*two, *one)
        assert there.valid == back.valid
        if there.valid:
            assert there.estimate == pytest.approx(1 / back.estimate)
            assert there.lower == pytest.approx(1 / back.upper)
            assert there.lower < there.estimate < there.upper
        else:
            assert there.reason


@given(st.lists(COUNTS, min_size=2, max_size=4))
def test_the_exact_test_knows_no_order_and_no_direction(
    counts: list[tuple[int, int]],
) -> None:
    events, sizes = np.array(counts).T
    p_value = exact_p_value(events, sizes)
    assert 0 < p_value <= 1
    assert exact_p_value(events[::-1], sizes[::-1]) == pytest.approx(p_value, rel=1e-6)
    assert exact_p_value(sizes - events, sizes) == pytest.approx(p_value, rel=1e-6)


@given(st.lists(COUNTS, min_size=3, max_size=3))
def test_every_missing_number_of_a_table_has_a_reason(counts: list[tuple[int, int]]) -> None:
    events, sizes = np.array(counts).T
    table = crude_table(("within", "short", "beyond"), events, sizes, reference="within")
    assert table.valid or table.reason
    for row in table.rows[1:]:
        for item in (row.risk_difference, row.risk_ratio, row.odds_ratio):
            assert item.valid or item.reason
            assert not (item.valid and np.isnan([item.estimate, item.lower, item.upper]).any())


@given(st.lists(st.sampled_from([0.0, 1.0, np.nan]), min_size=8, max_size=40), SEEDS)
def test_bounds_enclose_what_was_seen_and_every_grid_value(
    outcome: list[float], seed: int
) -> None:
    exposed = np.random.default_rng(seed).integers(0, 2, len(outcome))
    found = followup_bounds(outcome, exposed)
    if not found.valid:
        assert found.reason
        return
    values = [found.difference_observed, *np.ravel(found.grid)]
    assert min(values) >= found.difference_lowest - 1e-12
    assert max(values) <= found.difference_highest + 1e-12
    assert found.difference_highest - found.difference_lowest <= 2 + 1e-12


@given(st.lists(st.tuples(st.integers(0, 60), st.booleans()), min_size=2, max_size=40))
def test_survival_falls_and_stays_inside_its_interval(rows: list[tuple[int, bool]]) -> None:
    time, event = np.array([row[0] for row in rows]), np.array([row[1] for row in rows], float)
    curve = kaplan_meier(time, event, times=range(0, 61, 12), cluster=np.arange(len(rows)) // 2)
    values = [point.survival.estimate for point in curve.points if point.survival.valid]
    assert values == sorted(values, reverse=True)
    for point in curve.points:
        item = point.survival
        assert item.valid or item.reason
        if item.valid:
            assert 0 <= item.lower <= item.estimate <= item.upper <= 1


@settings(deadline=None, max_examples=50)
@given(
    st.lists(st.tuples(st.integers(0, 8), st.integers(0, 6)), min_size=1, max_size=15),
    st.integers(2, 4),
)
def test_turnbull_masses_sum_to_one_and_ignore_copies(
    rows: list[tuple[int, int]], copies: int
) -> None:
    left = np.array([row[0] for row in rows], dtype=float)
    right = left + np.array([row[1] for row in rows])
    found = turnbull(left, right)
    assert sum(found.masses) == pytest.approx(1.0)
    again = turnbull(np.repeat(left, copies), np.repeat(right, copies))
    assert again.log_likelihood == pytest.approx(copies * found.log_likelihood, abs=1e-6)
    moved = turnbull(left + 5, right + 5)
    assert moved.log_likelihood == pytest.approx(found.log_likelihood, abs=1e-7)


@given(
    st.lists(st.tuples(st.floats(-3, 3), st.floats(0.01, 2)), min_size=2, max_size=10),
    st.floats(-5, 5),
    st.floats(0.1, 10),
)
def test_pooling_moves_with_shift_and_scale(
    rows: list[tuple[float, float]], shift: float, scale: float
) -> None:
    q, u = np.array(rows).T
    plain = pool_scalar(q, u, complete_degrees=50)
    moved = pool_scalar(q * scale + shift, u * scale**2, complete_degrees=50)
    assert moved.value.estimate == pytest.approx(plain.value.estimate * scale + shift, abs=1e-8)
    assert moved.standard_error == pytest.approx(plain.standard_error * scale)
    assert moved.fraction_missing == pytest.approx(plain.fraction_missing, abs=1e-6)
    assert 0 <= plain.fraction_missing <= 1
    assert plain.total >= plain.within


@given(st.floats(0.05, 20), st.floats(1.01, 5))
def test_e_value_is_at_least_the_ratio_and_the_limit_is_less(
    ratio: float, spread: float
) -> None:
    found = e_value(ratio, ratio / spread, ratio * spread)
    assert found.estimate >= max(ratio, 1 / ratio) - 1e-12
    assert 1 <= found.limit <= found.estimate
