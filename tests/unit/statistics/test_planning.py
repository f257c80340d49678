"""Planning: printed sample sizes, refusals, misuse."""

import math
from datetime import date

import pytest

from lengthwise.statistics.planning import (
    cases_for_bias,
    cases_for_change,
    cases_for_limit,
    cases_for_proportion,
    expected_cases,
    limit_half_width,
)


@pytest.mark.parametrize(
    ("population", "share", "half_width", "cases"),
    [(400, 0.7, 0.05, 178.61), (500, 0.4, 0.05, 213), (500, 0.2, 0.05, 165),
     (500, 0.05, 0.05, 64), (500, 0.5, 0.025, 378), (500, 0.05, 0.025, 185),
     (50, 0.9, 0.05, 37), (120, 0.9, 0.05, 65), (200, 0.9, 0.10, 30)],
)  # fmt: skip
def test_finite_population_as_printed(
    population: int, share: float, half_width: float, cases: float
) -> None:
    # n = c^2 N p q / (A^2 N + c^2 p q), c = 1.96: a clinical-audit support unit's table,
    # second-hand; Cochran WG. Sampling Techniques, 3rd ed. 1977, chapter 4, subtracts 1 in
    # the denominator, which moves these sizes by less than one case.
    found = cases_for_proportion(share, half_width, population=population)
    assert found == pytest.approx(cases, abs=0.9)


def test_the_t_form_gives_the_smallest_number() -> None:
    cases = cases_for_limit(0.5, 0.2)
    assert cases == int(cases)
    assert limit_half_width(0.5, int(cases)) <= 0.2 < limit_half_width(0.5, int(cases) - 1)


def test_wide_wishes_still_need_two_pairs() -> None:
    assert cases_for_bias(0.1, 50.0) == 2


def test_design_effect_multiplies_the_cases() -> None:
    assert cases_for_change(0.5, 0.7, design_effect=1.5) == pytest.approx(
        1.5 * cases_for_change(0.7, 0.5)
    )


def test_expected_cases_by_a_date() -> None:
    found = expected_cases(
        90, first_day=date(2026, 1, 1), last_day=date(2026, 3, 31), by=date(2026, 6, 29)
    )
    assert found.estimate == 180
    # Predictive variance of the 90 days ahead is about twice the count.
    assert 180 - 1.96 * math.sqrt(180) - 2 < found.lower < 160
    assert 200 < found.upper < 180 + 1.96 * math.sqrt(180) + 4


def test_expected_cases_after_an_empty_quarter_still_has_an_upper_limit() -> None:
    found = expected_cases(
        0, first_day=date(2026, 1, 1), last_day=date(2026, 3, 31), by=date(2026, 6, 29)
    )
    assert (found.estimate, found.lower) == (0, 0)
    assert found.upper > 0


def test_a_short_record_has_no_rate() -> None:
    found = expected_cases(
        9, first_day=date(2026, 1, 1), last_day=date(2026, 1, 27), by=date(2026, 6, 30)
    )
    assert not found.valid
    assert "27 days" in found.reason


@pytest.mark.parametrize(
    "call",
    [
        lambda: limit_half_width(0, 10),
        lambda: limit_half_width(1, 1),
        lambda: cases_for_limit(1, 0.2, formula="2000"),
        lambda: cases_for_limit(1, 0),
        lambda: cases_for_bias(1, -1),
        lambda: cases_for_bias(1, 1e-9),
        lambda: cases_for_proportion(1.0, 0.1),
        lambda: cases_for_proportion(0.5, 0.1, formula="other"),
        lambda: cases_for_proportion(0.5, 0.1, formula="krejcie_morgan"),
        lambda: cases_for_change(0.5, 0.5),
        lambda: expected_cases(
            1, first_day=date(2026, 2, 1), last_day=date(2026, 1, 1), by=date(2026, 3, 1)
        ),
    ],
)
def test_misuse_raises(call) -> None:
    with pytest.raises(ValueError):
        call()
