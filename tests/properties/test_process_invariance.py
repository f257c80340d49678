"""What must not change, or must change in one known way, whatever the data."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lengthwise.statistics.pooling import pool_moments, site_sums
from lengthwise.statistics.process.criteria import criterion_result
from lengthwise.statistics.process.differences import newcombe_difference, newcombe_paired
from lengthwise.statistics.process.funnel import funnel, funnel_limits, signal_counts
from lengthwise.statistics.process.individuals_chart import xmr_chart
from lengthwise.statistics.process.observed_expected import observed_expected
from lengthwise.statistics.process.period_change import period_change
from lengthwise.statistics.process.proportion_charts import laney_p_chart, p_chart
from lengthwise.statistics.process.run_chart import longest_run_and_crossings, run_chart
from lengthwise.statistics.process.shrinkage_beta import beta_binomial_shrinkage
from lengthwise.statistics.process.shrinkage_logit import logit_normal_shrinkage
from lengthwise.statistics.random_effects import random_effects

LENGTHS = st.lists(st.integers(-300, 300).map(lambda k: k / 100), min_size=10, max_size=40)
COUNTS = st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
UNITS = st.lists(COUNTS, min_size=6, max_size=15)
SITES = st.lists(st.tuples(st.floats(-3, 3), st.floats(0.01, 2)), min_size=2, max_size=10)
CASES = st.lists(
    st.tuples(st.integers(0, 1), st.booleans(), st.integers(0, 14)), min_size=30, max_size=80
)


@given(COUNTS, COUNTS)
def test_swapping_groups_flips_the_difference(one: tuple, other: tuple) -> None:
    there, back = newcombe_difference(*one, *other), newcombe_difference(*other, *one)
    assert there.estimate == pytest.approx(-back.estimate, abs=1e-12)
    assert there.lower == pytest.approx(-back.upper, abs=1e-12)
    assert -1 <= there.lower <= there.estimate <= there.upper <= 1


@given(st.tuples(*[st.integers(0, 30)] * 4).filter(any))
def test_swapping_the_order_flips_a_paired_difference(cells: tuple) -> None:
    both, first, second, neither = cells
    there = newcombe_paired(*cells)
    back = newcombe_paired(both, second, first, neither)
    assert there.lower == pytest.approx(-back.upper, abs=1e-9)
    assert there.lower <= there.estimate + 1e-12
    assert there.estimate <= there.upper + 1e-12


@given(LENGTHS, st.integers(-500, 500), st.integers(1, 9))
def test_shift_and_unit_move_an_individuals_chart_alike(
    values: list[float], shift: int, scale: int
) -> None:
    plain = xmr_chart(values)
    moved = xmr_chart(np.array(values) * scale + shift)
    assert moved.centre == pytest.approx(plain.centre * scale + shift, abs=1e-8)
    assert moved.upper[0] == pytest.approx(plain.upper[0] * scale + shift, abs=1e-8)


@given(LENGTHS)
def test_a_run_chart_knows_only_the_sides(values: list[float]) -> None:
    plain = run_chart(values).segments[0]
    mirrored = run_chart(-np.array(values)).segments[0]
    backwards = run_chart(values[::-1]).segments[0]
    for other in (mirrored, backwards):
        assert other.longest_run == plain.longest_run
        assert other.crossings == plain.crossings
        assert other.useful_points == plain.useful_points


@given(LENGTHS)
def test_runs_and_crossings_fit_together(values: list[float]) -> None:
    useful, longest, crossings = longest_run_and_crossings(values, 0.0)
    if useful:
        assert longest + crossings <= useful
        assert longest * (crossings + 1) >= useful


@given(st.lists(COUNTS, min_size=10, max_size=30))
def test_chart_limits_stay_within_0_and_1_and_mirror(rows: list[tuple]) -> None:
    events, cases = np.array(rows).T
    for chart in (p_chart, laney_p_chart):
        plain, mirrored = chart(events, cases), chart(cases - events, cases)
        assert plain.valid == mirrored.valid
        if plain.valid:
            assert min(plain.lower) >= 0
            assert max(plain.upper) <= 1
            assert np.array(plain.upper) == pytest.approx(1 - np.array(mirrored.lower))


@given(st.integers(1, 300), st.floats(0.01, 0.99))
def test_the_flag_is_never_more_eager_than_its_rate(cases: int, target: float) -> None:
    for tail, above, below in ((0.025, "above", "below"), (0.001, "above 99.8", "below 99.8")):
        low, high = signal_counts(cases, target, tail=tail)
        for count, word in ((low, below), (high, above)):
            if count is not None:
                point = funnel([count], [cases], target=target, minimum_cases=1).points[0]
                assert point.flag.startswith(word)
    limits = funnel_limits([cases], target)
    ordered = [limits.lower_998[0], limits.lower_95[0], limits.upper_95[0], limits.upper_998[0]]
    assert ordered == sorted(ordered)


@settings(max_examples=40)
@given(UNITS, st.randoms(use_true_random=False))
def test_order_of_units_does_not_matter(rows: list[tuple], random) -> None:
    order = list(range(len(rows)))
    random.shuffle(order)
    events, cases = np.array(rows).T
    plain, mixed = (
        beta_binomial_shrinkage(events, cases),
        beta_binomial_shrinkage(events[order], cases[order]),
    )
    assert plain.valid == mixed.valid
    if plain.valid:
        assert plain.mean == pytest.approx(mixed.mean, abs=1e-5)
        shares = [plain.shares[k].estimate for k in order]
        assert shares == pytest.approx([share.estimate for share in mixed.shares], abs=1e-4)
        assert all(0 <= share <= 1 for share in shares)


@settings(max_examples=40, deadline=None)
@given(UNITS)
def test_counting_the_other_result_mirrors_the_shrinkage(rows: list[tuple]) -> None:
    events, cases = np.array(rows).T
    names = np.arange(len(rows))
    plain = logit_normal_shrinkage(events, cases, names)
    mirrored = logit_normal_shrinkage(cases - events, cases, names)
    assert plain.valid == mirrored.valid
    if plain.valid:
        assert plain.mean == pytest.approx(-mirrored.mean, abs=1e-4)
        assert plain.share_mean == pytest.approx(1 - np.array(mirrored.share_mean), abs=1e-4)


@settings(max_examples=60)
@given(SITES, st.integers(-5, 5), st.integers(1, 6))
def test_pooling_follows_shift_scale_and_order(rows: list, shift: int, scale: int) -> None:
    y, v = np.array(rows).T
    plain = random_effects(y, v)
    moved = random_effects(y[::-1] * scale + shift, v[::-1] * scale**2)
    assert moved.tau_squared.estimate == pytest.approx(
        plain.tau_squared.estimate * scale**2, rel=1e-5, abs=1e-8
    )
    assert moved.pooled.estimate == pytest.approx(
        plain.pooled.estimate * scale + shift, rel=1e-5, abs=1e-6
    )
    assert plain.standard_error >= plain.wald_standard_error


@given(LENGTHS, LENGTHS)
def test_sums_of_sites_equal_the_pooled_rows(one: list[float], other: list[float]) -> None:
    found = pool_moments([site_sums(one), site_sums(other)])
    rows = np.array(one + other)
    assert found.bias == pytest.approx(rows.mean(), abs=1e-9)
    assert found.sd_total == pytest.approx(rows.std(ddof=1), abs=1e-7)


@given(CASES)
def test_codes_and_order_of_patients_do_not_matter(rows: list[tuple]) -> None:
    event, after, patient = (np.array(column) for column in zip(*rows, strict=True))
    order = np.random.default_rng(0).permutation(len(rows))
    names = np.array([f"p{code:02d}" for code in patient[::-1]])[::-1]
    plain = period_change(event, after, patient)
    mixed = period_change(event[order], after[order], names[order])
    assert plain.change.valid == mixed.change.valid
    if plain.change.valid:
        assert plain.change.lower == pytest.approx(mixed.change.lower, abs=1e-9)
    first, second = (
        criterion_result(event, cluster=patient).share,
        criterion_result(event[order], cluster=names[order]).share,
    )
    assert first.valid == second.valid
    if first.valid:
        assert first.lower == pytest.approx(second.lower, abs=1e-9)


@given(CASES)
def test_observed_and_expected_add_up(rows: list[tuple]) -> None:
    event, _, unit = (np.array(column) for column in zip(*rows, strict=True))
    found = observed_expected(event, np.full(event.size, event.mean()), unit)
    assert sum(row.observed for row in found.units) == event.sum()
    assert sum(row.expected for row in found.units) == pytest.approx(event.sum())
    assert sum(row.cases for row in found.units) == event.size
