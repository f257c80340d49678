"""Tables and worked examples of charts, computed from the published formulae.

Funnel limits: Spiegelhalter DJ. Stat Med 2005;24:1185-1202, appendix A.1.1,
doi:10.1002/sim.1970. Run charts: Anhoej J, Olesen AV. PLoS One 2014;9:e113825,
doi:10.1371/journal.pone.0113825. CUSUM: Steiner SH and others. Biostatistics
2000;1:441-452, doi:10.1093/biostatistics/1.4.441. Values were computed outside this project.
"""

import itertools
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from lengthwise.statistics.process.cusum import (
    cusum_weights,
    reflected_sum,
    risk_adjusted_cusum,
)
from lengthwise.statistics.process.cusum_threshold import simulated_run_length
from lengthwise.statistics.process.funnel import funnel, funnel_limits, signal_counts
from lengthwise.statistics.process.individuals_chart import upper_range_limit, xmr_chart
from lengthwise.statistics.process.overdispersion import funnel_overdispersion, widened_limits
from lengthwise.statistics.process.proportion_charts import laney_p_chart, p_chart
from lengthwise.statistics.process.rare_event_charts import chance_above, g_chart, t_chart
from lengthwise.statistics.process.reliability import cases_needed_for_reliability
from lengthwise.statistics.process.run_chart import (
    longest_run_and_crossings,
    run_chart,
    run_chart_limits,
)

TABLES = Path(__file__).parent / "tables"
FUNNEL = pd.read_csv(TABLES / "funnel_limits.csv").to_dict("records")
RUNS = pd.read_csv(TABLES / "run_chart_limits.csv").to_dict("records")


def _name(row: dict) -> str:
    return "-".join(str(value) for value in list(row.values())[:2])


@pytest.mark.parametrize("row", FUNNEL, ids=_name)
def test_funnel_limits_equal_the_table(row: dict) -> None:
    found = funnel_limits([row["cases"]], row["target"])
    for side in ("lower_998", "lower_95", "upper_95", "upper_998"):
        assert round(getattr(found, side)[0], 4) == row[side], side


@pytest.mark.parametrize("row", FUNNEL, ids=_name)
def test_funnel_signals_equal_the_table(row: dict) -> None:
    cases, target = int(row["cases"]), row["target"]
    low, high = signal_counts(cases, target)
    assert high == row["exact_count_95"]
    # The table prints a count above the cases where none can signal (5 cases at 0.30).
    printed = row["exact_count_998"]
    assert signal_counts(cases, target, tail=0.001)[1] == (
        printed if printed <= cases else None
    )
    assert low == (None if np.isnan(row["exact_low_count_95"]) else row["exact_low_count_95"])


@pytest.mark.parametrize("row", FUNNEL, ids=_name)
def test_the_drawn_line_signals_more_often_than_the_flag(row: dict) -> None:
    cases, target = int(row["cases"]), row["target"]
    limits = funnel_limits([cases], target)
    for line, name in ((limits.upper_95[0], "95"), (limits.upper_998[0], "998")):
        first = int(np.flatnonzero(np.arange(cases + 1) / cases > line)[0])
        chance = stats.binom.sf(first - 1, cases, target)
        assert first == row[f"line_count_{name}"]
        assert chance == pytest.approx(row[f"line_probability_{name}"], abs=5.1e-4)
        assert first < row[f"exact_count_{name}"]


def test_a_point_just_above_the_drawn_line_is_not_flagged() -> None:
    # 3 of 10 at a target of 0.10: above the line at 0.2787, exact tail 0.070.
    point = funnel([3], [10], target=0.1).points[0]
    assert point.share > funnel_limits([10], 0.1).upper_95[0]
    assert point.tail_above == pytest.approx(0.0702, abs=5e-5)
    assert point.flag == "no signal"
    assert funnel([4], [10], target=0.1).points[0].flag == "above 95 %"


@pytest.mark.parametrize(
    ("cases", "power_95", "power_998"),
    [(10, 0.12, 0.01), (20, 0.20, 0.03), (30, 0.24, 0.06), (50, 0.56, 0.11),
     (100, 0.81, 0.44), (200, 0.97, 0.83)],
)  # fmt: skip
def test_few_cases_seldom_show_a_doubled_share(
    cases: int, power_95: float, power_998: float
) -> None:
    for tail, power in ((0.025, power_95), (0.001, power_998)):
        first = signal_counts(cases, 0.1, tail=tail)[1]
        assert round(float(stats.binom.sf(first - 1, cases, 0.2)), 2) == power


def test_no_low_signal_is_possible_up_to_35_cases_at_a_tenth() -> None:
    lows = [signal_counts(cases, 0.1)[0] for cases in range(1, 37)]
    assert lows[:35] == [None] * 35
    assert lows[35] == 0


EVENTS = [3, 7, 4, 12, 2, 9, 6, 15, 5, 8, 1, 11]
CASES = [40, 52, 35, 60, 45, 38, 55, 62, 48, 50, 30, 41]


def test_overdispersion_on_the_proportion_scale() -> None:
    found = funnel_overdispersion(EVENTS, CASES, scale="proportion")
    assert found.target == pytest.approx(83 / 556)
    assert found.phi == pytest.approx(1.918431, abs=5e-7)
    assert found.phi_winsorised == pytest.approx(1.763685, abs=5e-7)
    assert found.tau_squared == pytest.approx(0.00254245, abs=5e-9)
    assert found.tau_squared_raw == pytest.approx(0.00300694, abs=5e-9)


@pytest.mark.parametrize(
    ("kind", "lower", "upper"),
    [
        ("none", 0.0591, 0.2395),
        ("multiplicative", 0.0295, 0.2690),
        ("additive", 0.0155, 0.2831),
    ],
)
def test_widened_limits_on_the_proportion_scale(kind: str, lower: float, upper: float) -> None:
    dispersion = funnel_overdispersion(EVENTS, CASES, scale="proportion")
    low, high = widened_limits([60, 30], dispersion, kind=kind)
    assert (round(low[0], 4), round(high[0], 4)) == (lower, upper)
    assert low[1] >= 0


def test_overdispersion_on_the_arcsine_scale() -> None:
    found = funnel_overdispersion(EVENTS, CASES, scale="arcsine")
    assert found.phi == pytest.approx(2.167502, abs=5e-7)
    assert found.phi_winsorised == pytest.approx(2.007194, abs=5e-7)
    assert found.tau_squared == pytest.approx(0.00644386, abs=5e-9)
    low, high = widened_limits([30, 60], found)
    assert np.round(low, 4).tolist() == [0.0249, 0.0375]
    assert np.round(high, 4).tolist() == [0.3518, 0.3175]


@pytest.mark.parametrize("row", RUNS, ids=_name)
def test_run_chart_limits_equal_the_table(row: dict) -> None:
    found = run_chart_limits(int(row["useful_points"]))
    assert (found.longest_run, found.crossings) == (row["longest_run"], row["crossings"])


@pytest.mark.parametrize("row", RUNS[:3], ids=_name)
def test_false_signals_of_all_series_equal_the_table(row: dict) -> None:
    points, limits = int(row["useful_points"]), run_chart_limits(int(row["useful_points"]))
    found = [
        longest_run_and_crossings(series, 0.0)
        for series in itertools.product((-1.0, 1.0), repeat=points)
    ]
    runs = np.array([run > limits.longest_run for _, run, _ in found])
    crossings = np.array([count < limits.crossings for _, _, count in found])
    assert round(runs.mean(), 3) == row["run_probability"]
    assert round(crossings.mean(), 3) == row["crossing_probability"]
    assert round((runs | crossings).mean(), 3) == row["either_probability"]


def _series(*runs: int) -> list[float]:
    """Values on alternating sides of 0 in runs of the given lengths."""
    return [(-1.0) ** k for k, length in enumerate(runs) for _ in range(length)]


@pytest.mark.parametrize(
    ("runs", "run_signal", "crossing_signal"),
    [
        ((7, 1, 1, 1, 1, 1, 1), False, False),  # 13 points, run of 7
        ((8, 1, 1, 1, 1, 1), True, False),  # 13 points, run of 8
        ((3, 3, 3, 3, 3, 3, 2, 2, 2), False, False),  # 24 points, 8 crossings
        ((3, 3, 3, 3, 3, 3, 3, 3), False, True),  # 24 points, 7 crossings
    ],
)
def test_signals_are_strict(
    runs: tuple[int, ...], run_signal: bool, crossing_signal: bool
) -> None:
    segment = run_chart(_series(*runs), median=0.0).segments[0]
    assert (segment.run_signal, segment.crossing_signal) == (run_signal, crossing_signal)


def test_individuals_chart_of_camshaft_weights() -> None:
    # Montgomery DC, Introduction to Statistical Quality Control, table 6.7 (from memory).
    values = [310, 288, 297, 298, 307, 303, 294, 297, 308, 306]
    values += [294, 299, 297, 299, 314, 295, 293, 306, 301, 304]
    chart = xmr_chart(values, range_constant=1.128)
    assert chart.centre == 300.5
    assert chart.dispersion == pytest.approx(7.789474, abs=5e-7)
    assert (round(chart.lower[0], 2), round(chart.upper[0], 2)) == (279.78, 321.22)
    assert upper_range_limit(chart) == pytest.approx(25.448, abs=5e-4)


def test_individuals_chart_of_differences_in_mm() -> None:
    values = [-0.4, 0.1, -0.2, 0.3, 0.0, -0.5, 0.2, -0.1, 0.4, -0.3, 0.1, 0.0]
    chart = xmr_chart(values, range_constant=3 / 2.66)
    assert chart.centre == pytest.approx(-0.033333, abs=5e-7)
    assert chart.dispersion == pytest.approx(0.436364, abs=5e-7)
    assert chart.lower[0] == pytest.approx(-1.194061, abs=5e-7)
    assert chart.upper[0] == pytest.approx(1.127394, abs=5e-7)
    assert upper_range_limit(chart) == pytest.approx(1.425600, abs=5e-7)


def test_laney_chart_of_small_months() -> None:
    counts = [2, 1, 4, 0, 3, 2, 5, 1, 2, 3, 1, 2]
    sizes = [18, 22, 25, 15, 20, 24, 28, 19, 21, 26, 17, 23]
    plain, laney = p_chart(counts, sizes), laney_p_chart(counts, sizes)
    assert laney.centre == pytest.approx(0.100775, abs=5e-7)
    assert laney.dispersion == pytest.approx(1.129397, abs=5e-7)
    assert plain.upper[0] == pytest.approx(0.313636, abs=5e-7)
    assert laney.upper[0] == pytest.approx(0.341180, abs=5e-7)
    assert laney.lower[0] == plain.lower[0] == 0
    assert any("too few cases" in note for note in laney.notes)


def test_g_chart_of_cases_between_events() -> None:
    chart = g_chart([12, 3, 25, 8, 0, 40, 15, 7, 19, 5, 11, 33])
    mean = 178 / 12
    assert chart.centre == 11.5
    assert g_chart([1.0] * 12, fixed_mean=mean).centre == pytest.approx(10.2795, abs=5e-5)
    assert chart.upper[0] == pytest.approx(60.808870, abs=5e-7)
    assert chart.lower[0] == 0
    assert chance_above(chart.upper[0], mean) == pytest.approx(0.0187, abs=5e-5)


@pytest.mark.parametrize(
    ("times", "mean_range", "centre", "upper"),
    [
        # Montgomery DC, Introduction to Statistical Quality Control, table 7.14 (from memory).
        (
            [286, 948, 536, 124, 816, 729, 4, 143, 431, 8, 2837, 596, 81, 227, 603, 492, 1199,
             1214, 2831, 96],
            2.360921, 430.041, 6937.93,
        ),
        ([12, 45, 3, 60, 21, 8, 90, 33, 17, 5, 71, 28], 1.053442, 24.3927, 386.0892),
    ],
)  # fmt: skip
def test_t_chart_of_waiting_times(
    times: list[int], mean_range: float, centre: float, upper: float
) -> None:
    chart = t_chart(times)
    assert chart.dispersion == pytest.approx(mean_range, abs=5e-7)
    assert chart.centre == pytest.approx(centre, rel=2e-6)
    assert chart.upper[0] == pytest.approx(upper, rel=2e-6)
    assert chart.lower[0] == 0


@pytest.mark.parametrize(
    ("odds_ratio", "risk", "event", "none"),
    [
        (2, 0.05, 0.6444, -0.0488), (2, 0.10, 0.5978, -0.0953), (2, 0.15, 0.5534, -0.1398),
        (2, 0.20, 0.5108, -0.1823), (2, 0.30, 0.4308, -0.2624), (0.5, 0.05, -0.6678, 0.0253),
        (0.5, 0.10, -0.6419, 0.0513), (0.5, 0.15, -0.6152, 0.0780),
        (0.5, 0.20, -0.5878, 0.1054), (0.5, 0.30, -0.5306, 0.1625),
    ],
)  # fmt: skip
def test_cusum_weights(odds_ratio: float, risk: float, event: float, none: float) -> None:
    found = cusum_weights([risk], odds_ratio)
    assert (round(found[0][0], 4), round(found[1][0], 4)) == (event, none)


def test_cusum_and_vlad_of_ten_cases() -> None:
    risk = [0.05, 0.10, 0.20, 0.10, 0.30, 0.05, 0.10, 0.20, 0.10, 0.15]
    chart = risk_adjusted_cusum(
        [0, 1, 0, 1, 1, 0, 0, 1, 0, 1], risk, odds_ratio=2, threshold=1.5
    )
    score = [0, 0.5978, 0.4155, 1.0134, 1.4441, 1.3953, 1.3000, 1.8109, 1.7156, 2.2689]
    vlad = [0.05, -0.85, -0.65, -1.55, -2.25, -2.20, -2.10, -2.90, -2.80, -3.65]
    assert np.round(chart.score, 4).tolist() == score
    assert np.round(chart.vlad, 2).tolist() == vlad
    assert chart.first_signal == 7


def test_reflected_sum_equals_the_recursion() -> None:
    weights = np.random.default_rng(3).normal(-0.1, 0.5, 500)
    score, path = 0.0, []
    for weight in weights:
        score = max(0.0, score + weight)
        path.append(score)
    np.testing.assert_allclose(reflected_sum(weights), path, atol=1e-12)


@pytest.mark.parametrize(
    ("risk", "threshold", "usual", "changed"),
    [(0.10, 2.5, 454, 60), (0.20, 3.0, 506, 47), (0.05, 1.5, 209, 55)],
)
def test_simulated_run_lengths(
    risk: float, threshold: float, usual: float, changed: float
) -> None:
    # Both sides are simulated with 4,000 series, each with an error of about 1.6 %.
    found = simulated_run_length([risk], threshold=threshold, odds_ratio=2, seed=11)
    assert found.mean == pytest.approx(usual, rel=0.07)
    assert found.mean_after_change == pytest.approx(changed, rel=0.07)
    assert found.median < 0.8 * found.mean


@pytest.mark.parametrize(
    ("wanted", "correlation", "cases"),
    [(0.7, 0.01, 231), (0.7, 0.02, 114), (0.7, 0.05, 44), (0.7, 0.10, 21), (0.7, 0.20, 9),
     (0.9, 0.05, 171), (0.9, 0.10, 81)],
)  # fmt: skip
def test_cases_for_reliability(wanted: float, correlation: float, cases: int) -> None:
    # n = R / (1 - R) (1 - rho) / rho; Adams JL. RAND TR-653, 2009.
    assert round(cases_needed_for_reliability(wanted, correlation)) == cases
