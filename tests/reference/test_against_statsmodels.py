"""What the speed is compared on is the same estimate: ours and statsmodels' on the same rows."""

import warnings

import pytest

from bench.against_pairs import largest_difference
from bench.bench_against import PAIRS

CANALS = 1_000
COMPARED = [pair for pair in PAIRS if pair.theirs]


def test_every_analysis_of_agreement_and_outcome_is_measured():
    measured = {pair.method_id for pair in PAIRS}
    assert measured == {f"{letter}{number}" for letter in "AC" for number in range(1, 10)}


@pytest.mark.parametrize("pair", COMPARED, ids=lambda pair: f"{pair.method_id} {pair.what}")
def test_both_estimate_the_same(pair):
    rows = pair.rows(CANALS)
    with warnings.catch_warnings():
        # The counterpart's optimisers may complain; their numbers are what counts here.
        warnings.simplefilter("ignore")
        other = pair.theirs(rows)
    assert largest_difference(pair.ours(rows), other) < pair.closeness


@pytest.mark.parametrize(
    "pair",
    [pair for pair in PAIRS if not pair.theirs],
    ids=lambda pair: f"{pair.method_id} {pair.what}",
)
def test_what_has_no_counterpart_gives_numbers(pair):
    found = pair.ours(pair.rows(CANALS))
    assert found
    assert all(abs(one) < float("inf") for one in found)
