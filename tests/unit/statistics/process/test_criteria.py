"""Criterion results: counts, refusals and gaps."""

import math

import numpy as np
import pytest

from lengthwise.statistics.process.criteria import cases_to_target, criterion_result

NAN = math.nan


def test_counts_exceptions_and_missing_cases_are_kept_apart() -> None:
    met = [1] * 9 + [0] * 3 + [NAN, NAN, 0]
    exception = [False] * 14 + [True]
    found = criterion_result(met, is_exception=exception, target=0.9)
    assert (found.numerator, found.denominator, found.exceptions) == (9, 12, 1)
    assert found.share.n_missing == 2
    assert found.share.estimate == 0.75
    assert found.gap_points == pytest.approx(-15)
    assert found.gap_cases == 2


def test_a_small_denominator_gives_counts_only() -> None:
    found = criterion_result([1] * 9, target=0.8)
    assert not found.share.valid
    assert "9 of 9: fewer than 10" in found.share.reason
    assert math.isnan(found.gap_points)
    assert found.gap_cases == 0


def test_no_case_at_all() -> None:
    found = criterion_result([], target=0.8)
    assert (found.numerator, found.denominator, found.gap_cases) == (0, 0, None)
    assert found.share.reason


def test_wilson_limits_of_independent_cases() -> None:
    # Wilson 1927: 9 of 10 gives 59.6 to 98.2 %.
    found = criterion_result([1] * 9 + [0]).share
    assert (round(found.lower, 3), round(found.upper, 3)) == (0.596, 0.982)


def test_likeness_within_patients_widens_the_interval() -> None:
    met, patients = np.repeat([1, 1, 1, 0, 1, 0], 4), np.repeat(np.arange(6), 4)
    plain, clustered = criterion_result(met), criterion_result(met, cluster=patients)
    assert clustered.n_clusters == 6
    assert clustered.share.estimate == plain.share.estimate
    assert clustered.share.lower < plain.share.lower


def test_one_patient_gives_no_interval() -> None:
    found = criterion_result([1] * 12, cluster=["a"] * 12)
    assert not found.share.valid
    assert found.share.reason


@pytest.mark.parametrize("value", [0, 1])
def test_all_alike_keeps_a_width(value: int) -> None:
    found = criterion_result([value] * 20, cluster=np.arange(20) // 2)
    assert found.share.valid
    assert found.share.upper - found.share.lower > 0.1


@pytest.mark.parametrize(
    ("numerator", "target", "higher", "cases"),
    [(21, 0.7, True, 0), (20, 0.7, True, 1), (12, 0.1, False, 9), (3, 0.1, False, 0)],
)
def test_cases_to_target_of_30(numerator: int, target: float, higher: bool, cases: int) -> None:
    assert cases_to_target(numerator, 30, target, higher_is_wanted=higher) == cases


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"target": 1.2}, "target"),
        ({"is_exception": [True]}, "is_exception"),
        ({"cluster": [1]}, "cluster"),
    ],
)
def test_misuse_raises(options: dict, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        criterion_result([1, 0, 1], **options)
    with pytest.raises(ValueError, match="met"):
        criterion_result([2, 0])
