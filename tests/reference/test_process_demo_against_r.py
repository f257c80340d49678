"""Every process method on the demo's fillings and on awkward data, against R 4.2.2.

The values come from scripts/process_demo.R (lme4 1.1-31, clubSandwich 0.5.8, else base R), which
reads the same table; all are held to six digits or more.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lengthwise.statistics.process.case_mix import CaseMixModel, expected_risks
from lengthwise.statistics.process.cusum import risk_adjusted_cusum
from lengthwise.statistics.process.funnel import funnel, funnel_limits
from lengthwise.statistics.process.individuals_chart import xmr_chart
from lengthwise.statistics.process.observed_expected import observed_expected
from lengthwise.statistics.process.period_change import period_change
from lengthwise.statistics.process.proportion_charts import laney_p_chart, p_chart
from lengthwise.statistics.process.rare_event_charts import g_chart
from lengthwise.statistics.process.run_chart import run_chart
from lengthwise.statistics.process.shrinkage_logit import logit_normal_shrinkage
from lengthwise.statistics.proportions import clustered_proportion_of_rows

FILLS = pd.read_csv(Path(__file__).parent / "tables" / "process_demo.csv")
CASE_MIX = ["molar", "retreatment", "lesion", "premolar", "lesion_unknown"]
RECENT = FILLS[FILLS["month"] > FILLS["month"].max() - 12]
SIX = {"rel": 1e-6}


def _model(rows: pd.DataFrame) -> CaseMixModel:
    return expected_risks(rows["beyond"], rows[CASE_MIX].to_numpy())


def test_b1_share_over_patients() -> None:
    found = clustered_proportion_of_rows(FILLS["beyond"], FILLS["patient"])
    value = found.wilson_icc
    assert [value.estimate, value.lower, value.upper, found.icc, found.inflation] == (
        pytest.approx(
            [0.108937070333, 0.0970158156836, 0.122125083762, 0.18227873996, 1.5971532491],
            **SIX,
        )
    )


def test_b2_run_chart() -> None:
    share = FILLS.groupby("month")["short"].mean()
    (part,) = run_chart(share.to_numpy()).segments
    assert part.limits is not None
    limits = (part.limits.longest_run, part.limits.crossings)
    assert (part.useful_points, part.longest_run, part.crossings) == (30, 8, 7)
    assert limits == (8, 10)
    assert (part.run_signal, part.crossing_signal) == (False, True)


@pytest.mark.parametrize(
    ("counts", "sizes", "wanted"),
    [
        (None, None, [0.0980962453728, 1.24249152342, 0.217339420391, 0.246254879558,
                      0.0259248706573]),
        # A month all events, months of one case, one without cases, a large one.
        ([0, 9, 3, 0, 2, 12, 1, 0, 4, 2, 6, 1], [5, 9, 30, 0, 2, 80, 1, 4, 19, 3, 60, 1],
         [0.18691588785, 3.50295022349, 0.709946488958, 1, 0]),
    ],
)  # fmt: skip
def test_b3_share_charts(counts: list | None, sizes: list | None, wanted: list[float]) -> None:
    if counts is None:
        by_month = FILLS.groupby("month")["short"].agg(["sum", "size"])
        counts, sizes = by_month["sum"], by_month["size"]
    plain, laney = p_chart(counts, sizes), laney_p_chart(counts, sizes)
    found = [plain.centre, laney.dispersion, plain.upper[0], laney.upper[0], laney.lower[-1]]
    assert found == pytest.approx(wanted, rel=1e-6, abs=1e-12)


def test_b3_individuals_with_a_gap_and_a_wild_value() -> None:
    values = [-0.4, 0.1, np.nan, 0.3, 0.0, -0.5, 0.2, -0.1, 0.4, -0.3, 0.1, 7.0]
    found = xmr_chart(values)
    assert [found.centre, found.dispersion, found.lower[0], found.upper[0]] == pytest.approx(
        [0.618181818182, 1.1, -2.30636703581, 3.54273067218], **SIX
    )
    assert found.outside == (11,)


def test_b3_cases_between_events() -> None:
    ordered = FILLS.sort_values("month", kind="stable")["beyond"].to_numpy()[:300]
    places = np.flatnonzero(ordered)
    between = np.diff(np.concatenate([[-1], places])) - 1
    found = g_chart(between)
    assert (found.n_used, found.centre) == (22, 8.5)
    assert between.mean() == pytest.approx(10.9545454545, **SIX)
    assert found.upper[0] == pytest.approx(45.2854281133, **SIX)


def test_b4_tails_of_every_clinician() -> None:
    units = RECENT.groupby("clinician")["beyond"].agg(["sum", "size"])
    found = funnel(units["sum"], units["size"], target=0.10)
    above = [0.178532160365, 0.202329844001, 0.0657585490953, 0.999201646262,
             7.02663356016e-08, 0.135245669255, 0.950302114351]  # fmt: skip
    below = [0.862740450167, 0.845371720783, 0.954789984435, 0.00202305621512,
             0.999999971644, 0.912617245499, 0.109195404493]  # fmt: skip
    assert [point.tail_above for point in found.points] == pytest.approx(above, **SIX)
    assert [point.tail_below for point in found.points] == pytest.approx(below, **SIX)
    flagged = [place + 1 for place, point in enumerate(found.points) if "99.8" in point.flag]
    assert flagged == [5]


@pytest.mark.parametrize(
    ("cases", "target", "wanted"),
    [
        (7, 0.02, [0, 0, 0.123109461317, 0.271859276503]),
        (266, 0.85, [0.776823740636, 0.803978197776, 0.889836657782, 0.911930883298]),
    ],
)
def test_b4_drawn_limits(cases: int, target: float, wanted: list[float]) -> None:
    drawn = funnel_limits([cases], target)
    found = [drawn.lower_998[0], drawn.lower_95[0], drawn.upper_95[0], drawn.upper_998[0]]
    assert found == pytest.approx(wanted, rel=1e-6, abs=1e-12)


def test_b5_case_mix_and_observed_against_expected() -> None:
    model = _model(RECENT)
    assert model.coefficients == pytest.approx(
        [-1.82528137108, -0.18175012858, -0.168226835149, 0.0853071351661, -0.0191007624959,
         -0.342979605881], **SIX
    )  # fmt: skip
    units = observed_expected(RECENT["beyond"], model.risk, RECENT["clinician"]).units
    assert [unit.expected for unit in units] == pytest.approx(
        [42.3818904206, 36.653775588, 33.7685899528, 27.0097653525, 32.4153660596,
         17.8310014852, 10.9396111412], **SIX
    )  # fmt: skip
    assert [unit.z for unit in units] == pytest.approx(
        [-0.390969308336, -0.291593857924, 0.409951771644, -3.49497264643, 4.4233959208,
         0.295761004177, -1.91861795392], **SIX
    )  # fmt: skip
    assert [units[4].ratio.lower, units[4].ratio.upper] == pytest.approx(
        [1.30499214801, 2.2434007956], **SIX
    )


def test_b5_variation_between_clinicians() -> None:
    model = _model(RECENT)
    found = logit_normal_shrinkage(
        RECENT["beyond"], np.ones(len(RECENT), dtype=int), RECENT["clinician"],
        offset=model.linear_predictor,
    )  # fmt: skip
    # The script integrates to 1e-11 and maximises to 1e-10 of the parameters.
    assert found.mean == pytest.approx(-0.125300445435, rel=2e-6)
    assert found.standard_deviation == pytest.approx(0.459150879465, rel=2e-6)


def test_b6_score_of_one_clinician() -> None:
    risk = np.array(_model(FILLS).risk)
    own = (FILLS["clinician"] == 5).to_numpy()
    found = risk_adjusted_cusum(FILLS["beyond"][own], risk[own], odds_ratio=2.0, threshold=5.0)
    score = np.array(found.score)
    assert [score[-1], score.max(), score.sum(), found.vlad[-1]] == pytest.approx(
        [16.5857164097, 17.141150269, 3834.64904178, -27.2050081134], **SIX
    )


AWKWARD = {
    "event": [1, 1, 0, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 1, 0, 0, 1, 1, 1, 0, 0, 1, 0, 0, 0, 0],
    "after": [0, 0, 1, 1, 0, 0, 1, 0, 0, 1, 0, 1, 1, 0, 1, 0, 0, 1, 0, 1, 1, 0, 1, 0, 1, 1],
    "patient": [1, 1, 1, 1, 2, 2, 2, 3, 4, 4, 5, 5, 5, 6, 7, 8, 8, 8, 9, 10, 10, 11, 11, 12,
                12, 12],
}  # fmt: skip


@pytest.mark.parametrize(
    ("table", "change", "error", "lower", "upper"),
    [
        ("demo", -0.0649635322281, 0.0116800190158, -0.0878874092232, -0.0420396552331),
        # Twelve patients of one to four cases, some in both periods.
        ("awkward", -0.461538461538, 0.15592076865, -0.814728008016, -0.108348915061),
    ],
)
def test_b7_change_between_periods(
    table: str, change: float, error: float, lower: float, upper: float
) -> None:
    rows = pd.DataFrame(AWKWARD)
    if table == "demo":
        rows = pd.DataFrame(
            {
                "event": FILLS["short"],
                "after": FILLS["month"] >= 17,
                "patient": FILLS["patient"],
            }
        )
    found = period_change(rows["event"], rows["after"], rows["patient"])
    assert found.fit is not None
    value = found.change
    assert [value.estimate, value.lower, value.upper] == pytest.approx(
        [change, lower, upper], **SIX
    )
    assert (value.upper - value.lower) / 2 > 1.9 * error
