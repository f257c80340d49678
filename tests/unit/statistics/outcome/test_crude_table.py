"""Published tables of outcome by level, which point in opposite directions."""

import numpy as np
import pytest
from scipy import stats

from lengthwise.statistics.outcome.crude_ratios import odds_ratio, risk_ratio
from lengthwise.statistics.outcome.crude_table import crude_table, crude_table_from_rows
from lengthwise.statistics.outcome.exact_table import exact_p_value, table_test

LEVELS = ("within", "short", "beyond")
# Otago cohort, IADR abstract 189964: rates printed, counts reconstructed (the only integers).
OTAGO = crude_table(LEVELS, [5, 6, 2], [80, 17, 3], reference="within")
# Terauchi, Torabinejad, Wong, Bogen. J Endod 2023;49:664-674, PMID 37085142: counts printed.
TERAUCHI = crude_table(LEVELS, [13, 43, 9], [103, 53, 108], reference="within")


def pair(n1: int, x1: int, n2: int, x2: int):
    return crude_table(("a", "b"), [x1, x2], [n1, n2], reference="b").row("a")


def test_otago_names_the_exact_test() -> None:
    assert OTAGO.test.name == "Freeman-Halton exact test"
    assert OTAGO.test.p_value == pytest.approx(0.0003688, abs=5e-8)
    assert OTAGO.test.pearson_chi2 == pytest.approx(18.3332, abs=5e-5)
    assert OTAGO.test.pearson_p == pytest.approx(0.00010447, abs=5e-9)
    assert OTAGO.test.smallest_expected == pytest.approx(0.39)
    short = OTAGO.row("short")
    assert short.risk_difference.estimate == pytest.approx(0.2904, abs=5e-5)
    assert short.test.pearson_chi2 == pytest.approx(11.7635, abs=5e-5)
    assert short.test.yates_chi2 == pytest.approx(9.0521, abs=5e-5)


def test_otago_flags_the_level_of_three() -> None:
    beyond = OTAGO.row("beyond")
    assert beyond.unstable
    assert "n = 3" in beyond.reason
    assert beyond.odds_ratio.estimate == pytest.approx(30.0)
    assert not OTAGO.row("short").unstable


def test_terauchi_needs_no_exact_test_and_has_the_other_direction() -> None:
    assert TERAUCHI.test.name == "Pearson's chi-square test"
    assert TERAUCHI.test.pearson_chi2 == pytest.approx(114.6268, abs=5e-5)
    assert TERAUCHI.test.exact_p == pytest.approx(1.7303e-23, rel=5e-5)
    beyond, short = TERAUCHI.row("beyond"), TERAUCHI.row("short")
    assert beyond.odds_ratio.estimate < 1 < OTAGO.row("beyond").odds_ratio.estimate
    assert beyond.risk_difference.estimate == pytest.approx(-0.0429, abs=5e-5)
    assert short.risk_difference.estimate == pytest.approx(0.6851, abs=5e-5)
    assert short.test.yates_chi2 == pytest.approx(68.4321, abs=5e-5)
    assert short.test.exact_p == pytest.approx(1.916e-17, rel=5e-4)
    assert short.odds_ratio.lower == pytest.approx(12.0921, abs=5e-5)
    assert short.odds_ratio.upper == pytest.approx(73.2881, abs=5e-5)


def test_sealer_extrusion() -> None:
    # Head Face Med 2022, 10.1186/s13005-022-00332-3: 69 of 72 and 110 of 113 healed (counts
    # reconstructed from the printed rates).
    row = pair(72, 3, 113, 3)
    assert row.odds_ratio.estimate == pytest.approx(1.5942, abs=5e-5)
    assert row.test.exact_p == pytest.approx(0.6792, abs=5e-5)
    assert row.test.pearson_chi2 == pytest.approx(0.3203, abs=5e-5)
    assert row.test.name == "Fisher's exact test"


def test_three_tests_may_straddle_the_usual_line() -> None:
    # Overfilled teeth, primary 131 of 143 and retreatment 63 of 77 healed (Goldberg; counts
    # reconstructed from the printed rates).
    row = pair(77, 14, 143, 12)
    assert row.odds_ratio.estimate == pytest.approx(2.4259, abs=5e-5)
    assert row.odds_ratio.lower == pytest.approx(1.0604, abs=5e-5)
    assert row.odds_ratio.upper == pytest.approx(5.5497, abs=5e-5)
    assert row.test.pearson_p == pytest.approx(0.0319, abs=5e-5)
    assert row.test.yates_p == pytest.approx(0.0540, abs=5e-5)
    assert row.test.exact_p == pytest.approx(0.0471, abs=5e-5)
    assert row.test.name == "Pearson's chi-square test"


@pytest.mark.parametrize(
    ("counts", "ratio", "chi2"),
    [
        # Liang 2012, film and CBCT: one of several integer solutions of the printed rates.
        ((135, 53, 133, 17), 4.4103, 24.3391),
        ((166, 85, 102, 19), 4.5841, 28.2357),
    ],
)
def test_film_and_cone_beam(counts: tuple[int, ...], ratio: float, chi2: float) -> None:
    row = pair(*counts)
    assert row.odds_ratio.estimate == pytest.approx(ratio, abs=5e-5)
    assert row.test.pearson_chi2 == pytest.approx(chi2, abs=5e-5)


@pytest.mark.parametrize(
    "table", [(3, 20, 0, 8), (5, 80, 2, 3), (1, 1, 3, 20), (12, 30, 9, 31)]
)
def test_two_levels_equal_fisher(table: tuple[int, ...]) -> None:
    x1, n1, x2, n2 = table
    expected = stats.fisher_exact([[x1, n1 - x1], [x2, n2 - x2]]).pvalue
    assert exact_p_value(np.array([x1, x2]), np.array([n1, n2])) == pytest.approx(expected)


def test_four_levels_equal_r() -> None:
    # fisher.test(rbind(c(1, 4, 0, 3), c(9, 8, 7, 2)))$p.value, R 4.2.2
    found = exact_p_value(np.array([1, 4, 0, 3]), np.array([10, 12, 7, 5]))
    assert found == pytest.approx(0.060975355861831, rel=1e-9)


def test_an_exact_test_too_large_to_list_is_said() -> None:
    sizes = np.array([20_000, 20_000, 20_000, 3])
    found = table_test(np.array([3_000, 3_000, 3_000, 1]), sizes)
    assert np.isnan(found.exact_p)
    assert found.name == "Pearson's chi-square test"
    assert "too many tables" in found.reason


@pytest.mark.parametrize(
    ("events", "sizes", "reason"),
    [
        ([0, 0, 0], [10, 9, 8], "no unit has the event"),
        ([10, 9, 8], [10, 9, 8], "every unit has the event"),
        ([3, 0, 0], [10, 0, 0], "only one level has units"),
        ([0, 0, 0], [0, 0, 0], "only one level has units"),
    ],
)
def test_no_test_without_variation(events: list, sizes: list, reason: str) -> None:
    table = crude_table(LEVELS, events, sizes, reference="within")
    assert not table.valid
    assert reason in table.reason
    for row in table.rows[1:]:
        assert not row.odds_ratio.valid
        assert row.odds_ratio.reason
        assert not row.risk_ratio.valid


def test_an_empty_level_is_refused_alone() -> None:
    table = crude_table(LEVELS, [5, 6, 0], [80, 17, 0], reference="within")
    assert table.valid
    assert not table.row("beyond").share.valid
    assert not table.row("beyond").risk_difference.valid
    assert table.test.degrees_of_freedom == 1


def test_an_empty_cell_has_an_odds_ratio_with_a_note() -> None:
    found = odds_ratio(0, 18, 5, 20)
    assert found.estimate == pytest.approx((0.5 / 18.5) / (5.5 / 15.5))
    assert "one half" in found.reason
    assert not risk_ratio(0, 18, 5, 20).valid


def test_few_events_say_how_wide_the_ratios_are() -> None:
    for fit in (odds_ratio, risk_ratio):
        assert "in simulation" in fit(9, 40, 15, 80).reason
        assert fit(10, 40, 15, 80).reason == ""
    # Few without the event widen an odds ratio, not a risk ratio.
    assert "in simulation" in odds_ratio(38, 40, 60, 80).reason
    assert risk_ratio(38, 40, 60, 80).reason == ""


def test_rows_are_counted_and_the_missing_said() -> None:
    levels = ["within", "short", None, "within", "other", "beyond", "short"]
    outcome = [0, 1, 1, np.nan, 0, 1, 0]
    table = crude_table_from_rows(levels, outcome, levels=LEVELS, reference="within")
    assert [row.n for row in table.rows] == [1, 2, 1]
    assert [row.events for row in table.rows] == [0, 1, 1]
    assert table.n_missing == 3


@pytest.mark.parametrize(
    "arguments",
    [
        (("a", "b"), [1], [2, 3]),
        (("a", "a"), [1, 1], [2, 3]),
        (("a", "b"), [3, 1], [2, 3]),
        (("x", "y"), [1, 1], [2, 3]),
    ],
)
def test_misuse_raises(arguments: tuple) -> None:
    with pytest.raises(ValueError):
        crude_table(*arguments, reference="a")


def test_an_exact_test_that_nothing_asks_for_is_not_listed_without_end() -> None:
    # 1,501 x 1,501 tables: listed where a count is small, left where none is.
    sizes = np.array([1_500, 1_500, 1_500])
    found = table_test(np.array([600, 620, 640]), sizes)
    assert np.isnan(found.exact_p)
    assert not found.exact_needed
    assert (found.valid, found.reason) == (True, "")
    few = table_test(np.array([1, 2, 1_499]), np.array([4, 1_500, 2_000]))
    assert few.exact_needed
    assert few.p_value == few.exact_p
