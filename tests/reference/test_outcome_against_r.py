"""One awkward clustered data set against R, made alike in both languages.

Values by scripts/outcome_unbalanced.R, R 4.2.2, gee 4.13-25, geepack 1.3.9, survival 3.5-3,
MASS 7.3-58.2, sandwich 3.0-2; the call stands beside each. 60 patients with 1 to 12 teeth and
one with 40.
"""

import math

import numpy as np
import pytest

from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.model_fit import ModelFit
from lengthwise.statistics.outcome.ordinal import fit_proportional_odds
from lengthwise.statistics.outcome.regression import fit_modified_poisson, fit_regression
from lengthwise.statistics.outcome.survival import kaplan_meier

TERMS = ("intercept", "short", "beyond", "months")


class Lehmer:
    """The generator of the script."""

    def __init__(self, state: int) -> None:
        self.state = state

    def draw(self) -> float:
        self.state = self.state * 16807 % 2147483647
        return self.state / 2147483647


@pytest.fixture(scope="module")
def teeth() -> np.ndarray:
    """Rows of patient, short, beyond, months, y, pai."""
    source = Lehmer(20240601)
    rows = []
    for patient in range(1, 61):
        size = 40 if patient == 60 else 1 + math.floor(12 * source.draw() ** 3)
        tendency = 2 * source.draw() - 1
        for _ in range(size):
            place = source.draw()
            beyond = float(place > 0.93)
            short = float(place > 0.70) - beyond
            months = 12 + math.floor(48 * source.draw())
            predictor = -1 + 0.9 * short + 0.5 * beyond - 0.01 * months + 1.5 * tendency
            risk = 1 / (1 + math.exp(-predictor))
            event = float(source.draw() < risk)
            pai = 1 + math.floor(5 * source.draw() * (0.4 + 0.6 * risk))
            rows.append((patient, short, beyond, months, event, pai))
    return np.array(rows, dtype=float)


@pytest.fixture(scope="module")
def design(teeth: np.ndarray) -> np.ndarray:
    return np.column_stack([np.ones(len(teeth)), teeth[:, 1:4]])


def close(got: object, expected: list[float], relative: float = 2e-6) -> None:
    assert np.asarray(got, dtype=float) == pytest.approx(np.array(expected), rel=relative)


def check(fit: ModelFit, coefficients: list[float], errors: list[float]) -> None:
    assert fit.valid, fit.reason
    close(fit.vector(), coefficients)
    close(fit.standard_errors, errors)


def test_the_rows_are_those_of_the_script(teeth: np.ndarray) -> None:
    assert len(teeth) == 256
    assert teeth[:, 4].sum() == 67


def test_exchangeable_equations(teeth: np.ndarray, design: np.ndarray) -> None:
    # gee(y ~ ., id = patient, family = binomial, corstr = "exchangeable", scale.fix = TRUE)
    fit = fit_gee(teeth[:, 4], design, teeth[:, 0], terms=TERMS, covariance="robust")
    check(
        fit,
        [-0.851826283346, 0.877069252228, 0.872789772897, -0.0108549921456],
        [0.364821359067, 0.288922798052, 0.334055362528, 0.0100220067961],
    )


def test_independence_equations(teeth: np.ndarray, design: np.ndarray) -> None:
    # geeglm(y ~ ., id = patient, family = binomial, corstr = "independence")
    fit = fit_gee(
        teeth[:, 4],
        design,
        teeth[:, 0],
        terms=TERMS,
        correlation="independence",
        covariance="robust",
    )
    check(
        fit,
        [-1.12909947542, 0.810306677078, 0.898804671237, -0.00656372094817],
        [0.4055540307, 0.289639703451, 0.390169220467, 0.011223298104],
    )


def test_modified_poisson_with_clusters(teeth: np.ndarray, design: np.ndarray) -> None:
    # geeglm(y ~ ., id = patient, family = poisson, corstr = "independence")
    check(
        fit_modified_poisson(teeth[:, 4], design, terms=TERMS, cluster=teeth[:, 0]),
        [-1.42470390338, 0.584088086915, 0.638106449643, -0.00470858015917],
        [0.296428819364, 0.213329334779, 0.253500472153, 0.00817711278396],
    )


def test_logistic_with_cluster_factor(teeth: np.ndarray, design: np.ndarray) -> None:
    # vcovCL(glm(y ~ ., binomial), cluster = patient, type = "HC0", cadjust = TRUE)
    fit = fit_regression(teeth[:, 4], design, terms=TERMS, cluster=teeth[:, 0])
    close(fit.standard_errors, [0.408976505611, 0.29208396942, 0.393461849327, 0.0113180105814])


def test_complementary_log_log(teeth: np.ndarray, design: np.ndarray) -> None:
    # glm(y ~ ., family = binomial("cloglog"), control = list(epsilon = 1e-14))
    check(
        fit_regression(teeth[:, 4], design, terms=TERMS, family="cloglog"),
        [-1.28553402948, 0.691307209686, 0.756812430849, -0.00545781263601],
        [0.371644712982, 0.261664937568, 0.421918812175, 0.00876661365369],
    )


def test_proportional_odds(teeth: np.ndarray, design: np.ndarray) -> None:
    # polr(factor(pai) ~ short + beyond + I(months / 120), Hess = TRUE, control =
    # list(reltol = 1e-15, maxit = 1000)); its optimiser and its numeric Hessian stop early.
    columns = design[:, 1:] / [1, 1, 120]
    fit = fit_proportional_odds(teeth[:, 5], columns, terms=TERMS[1:])
    assert fit.valid
    close(
        fit.vector(),
        [0.372414184033, -0.723702587379, 0.693232822897,
         -0.296958303903, 1.05888033667, 4.22481377448],
    )  # fmt: skip
    close(
        fit.standard_errors,
        [0.259870482485, 0.480136327157, 0.993770340195,
         0.357123708057, 0.364589470484, 0.567011928609],
    )  # fmt: skip
    assert fit.log_likelihood == pytest.approx(-296.527804694, abs=1e-7)


def test_survival_clustered_on_the_patient(teeth: np.ndarray) -> None:
    # survfit(Surv(months, y) ~ 1, cluster = patient, conf.type = "log-log", robust = TRUE)
    curve = kaplan_meier(teeth[:, 3], teeth[:, 4], times=(20, 35, 50), cluster=teeth[:, 0])
    close(
        [point.survival.estimate for point in curve.points],
        [0.936627513769, 0.843980396329, 0.683240000141],
    )
    close(
        [point.standard_error for point in curve.points],
        [0.0138211976826, 0.0253727811308, 0.050663387916],
    )
    close(
        [point.survival.lower for point in curve.points],
        [0.903179216271, 0.786566232918, 0.572432951758],
    )
    close(
        [point.survival.upper for point in curve.points],
        [0.958782877746, 0.887054985316, 0.7709849383],
    )
