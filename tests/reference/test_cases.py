"""Every case of the chosen folders, one test each, named by its id."""

import pytest

from reference.adapters import METHODS, NOT_OFFERED
from reference.runner import Case, differences, is_close


def test_case(case: Case) -> None:
    if case.method in NOT_OFFERED:
        pytest.skip(f"not offered: {NOT_OFFERED[case.method]}")
    if case.method not in METHODS:
        pytest.fail(f"no function answers the method id {case.method!r}")
    if case.data is not None and case.data_path() is None:
        pytest.skip(
            f"{case.data} may not be kept in the project and is not beside the checkout"
        )
    got = METHODS[case.method](case.frame(), case.arguments)
    problems = list(
        differences(got, case.expected, relative=case.relative, absolute=case.absolute)
    )
    assert not problems, "\n".join([f"{case.method}, {case.source}", *problems])


def test_no_method_is_both_offered_and_not_offered() -> None:
    assert not set(METHODS) & set(NOT_OFFERED)
    assert all(reason.strip() for reason in NOT_OFFERED.values())


@pytest.mark.parametrize(
    ("got", "expected", "number_of_problems"),
    [
        ({"p": 1.0 + 1e-7}, {"p": 1.0}, 0),
        ({"p": 1.0 + 1e-5}, {"p": 1.0}, 1),
        ({"p": float("nan")}, {"p": 1.0}, 1),
        ({}, {"p": 1.0}, 1),
        ({"p": [1.0]}, {"p": [1.0, 2.0]}, 1),
        ({"valid": True}, {"valid": False}, 1),
        ({"valid": False, "note": "other"}, {"valid": False, "note": "words"}, 0),
        ({"p": 0.2}, {"p": float("nan")}, 0),
        ({"median": None}, {"median": None}, 0),
        ({"median": 3.0}, {"median": None}, 1),
    ],
)
def test_differences_follow_the_pass_rule(
    got: dict[str, object], expected: dict[str, object], number_of_problems: int
) -> None:
    found = list(differences(got, expected, relative=1e-6, absolute=1e-9))
    assert len(found) == number_of_problems


def test_is_close_needs_equal_infinities() -> None:
    assert is_close(float("inf"), float("inf"), relative=0.0, absolute=0.0)
    assert not is_close(1e300, float("inf"), relative=1.0, absolute=0.0)
