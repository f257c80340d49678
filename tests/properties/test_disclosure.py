"""Whatever the counts are: no shared pack gives a masked one away."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from disclosure_attack import attack, small_cells, true_counts
from disclosure_runs import margins_run
from lengthwise.report.disclosure import shared_view
from lengthwise.report.disclosure.profiles import Profile

WIDTH = 9
TABLES = st.lists(
    st.one_of(st.integers(0, 12), st.integers(0, 80)), min_size=16, max_size=16
).map(lambda counts: np.array(counts).reshape(2, 2, 4))


@settings(
    max_examples=8,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(TABLES)
def test_no_masked_count_of_any_table_is_found_out(counts):
    run = margins_run(counts)
    known = attack(shared_view(run))
    for cell, count in small_cells(true_counts(run)).items():
        if cell in known.ends:
            low, high = known.range_of(cell)
            assert low <= count <= high
            assert high - low >= WIDTH
            assert min(high, WIDTH) - low >= WIDTH // 2


@given(st.integers(0, 10**6), st.sampled_from([2, 3, 5, 10]))
def test_rounding_moves_a_count_by_half_the_base_at_most(count, base):
    profile = Profile("shared", 10, base, True)
    shown = profile.rounded(count)
    assert shown % base == 0
    assert shown - profile.half_base <= count <= shown + (base - 1) // 2


@pytest.mark.parametrize("base", [1, 5])
def test_rounding_goes_on_with_the_count(base):
    profile = Profile("shared", 10, base, True)
    shown = [profile.rounded(count) for count in range(60)]
    assert shown == sorted(shown)
