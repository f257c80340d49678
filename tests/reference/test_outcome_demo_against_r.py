"""Every outcome method on the teeth of the demo, and on a small, nearly separated part, against R.

Values by scripts/outcome_demo.R on tables/outcome_demo.csv: R 4.2.2, gee 4.13-25, survival
3.5-3, MASS 7.3-58.2, sandwich 3.0-2; the call stands beside each. What R's packages at hand do
not have (Firth, Mancl-DeRouen, the delta method, Turnbull to convergence) the script writes
out by other algorithms. Imputation draws differ between programs; Rubin's rules have a
published case.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lengthwise.statistics.outcome.crude_table import crude_table_from_rows
from lengthwise.statistics.outcome.discrete_time import fit_discrete_time, person_periods
from lengthwise.statistics.outcome.dose_response import spline_response
from lengthwise.statistics.outcome.exact_table import table_test
from lengthwise.statistics.outcome.firth import fit_firth
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.ordinal import fit_proportional_odds
from lengthwise.statistics.outcome.review_weights import review_weights
from lengthwise.statistics.outcome.sensitivity import e_value
from lengthwise.statistics.outcome.splines import knots_at_quantiles
from lengthwise.statistics.outcome.standardisation import designs_by_level, standardised_risks
from lengthwise.statistics.outcome.survival import kaplan_meier
from lengthwise.statistics.outcome.turnbull import turnbull
from lengthwise.statistics.outcome.weighted_risks import weighted_risk_difference

TABLE = Path(__file__).parent / "tables" / "outcome_demo.csv"
LEVELS = ("within", "short", "beyond")
COVARIATES = ["lesion", "molar", "retreatment", "months_from_treatment"]
TERMS = ("intercept", "short", "beyond", *COVARIATES)


def close(got: object, expected: list[float], relative: float = 2e-6) -> None:
    values = np.atleast_1d(np.asarray(got, dtype=float))
    assert values == pytest.approx(np.array(expected), rel=relative)


def ends(item) -> list[float]:
    assert item.valid, item.reason
    return [item.estimate, item.lower, item.upper]


@pytest.fixture(scope="module")
def teeth() -> pd.DataFrame:
    frame = pd.read_csv(TABLE)
    for level in ("short", "beyond"):
        frame[level] = (frame["level"] == level).astype(float)
    return frame


@pytest.fixture(scope="module")
def known(teeth: pd.DataFrame) -> pd.DataFrame:
    return teeth[teeth["y"].notna() & teeth["level"].isin(LEVELS)]


@pytest.fixture(scope="module")
def complete(known: pd.DataFrame) -> pd.DataFrame:
    return known.dropna(subset=COVARIATES)


def design_of(frame: pd.DataFrame, *names: str) -> np.ndarray:
    return np.column_stack([np.ones(len(frame)), frame[list(names)].to_numpy(float)])


@pytest.fixture(scope="module")
def adjusted(complete: pd.DataFrame):
    return fit_gee(
        complete["y"], design_of(complete, "short", "beyond", *COVARIATES),
        complete["patient"], terms=TERMS, covariance="robust",
    )  # fmt: skip


def test_crude_table(known: pd.DataFrame) -> None:
    table = crude_table_from_rows(
        known["level"].to_numpy(object), known["y"], levels=LEVELS, reference="within"
    )
    assert [(row.events, row.n) for row in table.rows] == [(33, 301), (21, 100), (21, 93)]
    # chisq.test(correct = FALSE); Newcombe from prop.test(correct = FALSE); Katz; Woolf
    close(table.test.p_value, [0.00465006897775])
    short, beyond = table.row("short"), table.row("beyond")
    close(ends(short.risk_difference), [0.100365448505, 0.0210070596006, 0.195202350397])
    close(ends(short.risk_ratio), [1.91545454545, 1.16392838039, 3.15222669842])
    close(ends(short.odds_ratio), [2.15880322209, 1.18251687363, 3.94111192462])
    close(ends(beyond.risk_difference), [0.116171900118, 0.0326778698764, 0.215811774351])
    close(ends(beyond.risk_ratio), [2.0596285435, 1.25518396699, 3.37963983668])
    close(ends(beyond.odds_ratio), [2.36868686869, 1.29241486279, 4.34123565383])


def test_exact_p_value() -> None:
    # fisher.test(counts)
    found = table_test(np.array([33, 21, 21]), np.array([301, 100, 93]))
    close(found.exact_p, [0.00430120837948])


def test_equations(adjusted) -> None:
    # gee(y ~ ., id = patient, binomial, "exchangeable", scale.fix = TRUE)
    assert (adjusted.n_used, adjusted.n_clusters, adjusted.n_events) == (462, 411, 69)
    close(
        adjusted.vector(),
        [-3.4881644672, 0.575778420448, 0.865222280374, 1.47656877343, 0.809004032432,
         0.723065984136, -0.00233597590145],
    )  # fmt: skip
    close(
        adjusted.standard_errors,
        [0.355852335353, 0.363984590756, 0.336297358262, 0.294364248254, 0.299449934399,
         0.289068914633, 0.0761462434855],
    )  # fmt: skip
    close(adjusted.working_correlation, [-0.190383887874])


def test_standardised_risks_and_e_values(adjusted, complete: pd.DataFrame) -> None:
    design = design_of(complete, "short", "beyond", *COVARIATES)
    levels = {"within": {1: 0, 2: 0}, "short": {1: 1, 2: 0}, "beyond": {1: 0, 2: 1}}
    risks = standardised_risks(adjusted, designs_by_level(design, levels), reference="within")
    close(risks.row("within").risk.estimate, [0.113777465355])
    expected = {
        "short": ([0.0631643684348, -0.0193055141467, 0.145634251016],
                  [1.55515710636, 0.905689196647, 2.67035715388], [2.48432690736, 1.0]),
        "beyond": ([0.102961764502, 0.0204326068266, 0.185490922177],
                   [1.9049398682, 1.17948262773, 3.07659970239], [3.21789684893, 1.63958766072]),
    }  # fmt: skip
    for level, (difference, ratio, e_values) in expected.items():
        row = risks.row(level)
        close(ends(row.difference), difference)
        close(ends(row.ratio), ratio)
        found = e_value(*ends(row.ratio))
        close([found.estimate, found.limit], e_values)


def test_penalised_fit_and_its_profile_limits(complete: pd.DataFrame) -> None:
    # Newton on the penalised score, limits by uniroot
    design = design_of(complete, "short", "beyond", *COVARIATES)
    fit = fit_firth(complete["y"], design, terms=TERMS).fit
    close(ends(fit.coefficient("short")), [0.586853302242, -0.104431444753, 1.26724219018])
    close(ends(fit.coefficient("beyond")), [0.855180594063, 0.180132454009, 1.520383879])


def test_curve_along_the_offset(known: pd.DataFrame, complete: pd.DataFrame) -> None:
    # glm(y ~ spline + ..., binomial); vcovCL(cluster = patient, "HC0", cadjust = TRUE)
    knots = knots_at_quantiles(known["offset"])
    close(knots, [-2.535, -1.6, -1.0, 0.7])
    names = COVARIATES[:3]
    found = spline_response(
        complete["y"], complete["offset"], at=(-2.5, 0.5), reference=-1.0, knots=knots,
        covariates=complete[names].to_numpy(float), covariate_terms=names,
        cluster=complete["patient"],
    )  # fmt: skip
    close(ends(found.curve[0].log_odds_ratio), [0.152150834728, -0.60959017247, 0.913891841927])
    close(ends(found.curve[1].log_odds_ratio), [0.463611840575, -0.18396461253, 1.11118829368])
    close(found.nonlinearity_chi2, [2.7343236003])


def test_ordered_index(complete: pd.DataFrame) -> None:
    # polr(factor(pai) ~ short + beyond + lesion + molar, Hess = TRUE); its optimiser and its
    # numeric Hessian stop early
    names = ["short", "beyond", "lesion", "molar"]
    fit = fit_proportional_odds(complete["pai"], complete[names].to_numpy(float), terms=names)
    close(
        fit.vector()[:4],
        [-0.112218234607, 0.126066373544, 0.957409931289, -0.0804597362047], 1e-4,
    )  # fmt: skip
    close(
        fit.standard_errors[:4],
        [0.265213877729, 0.247426819741, 0.192782638671, 0.199689781225], 1e-4,
    )  # fmt: skip
    assert fit.log_likelihood == pytest.approx(-467.599758615, abs=1e-6)


def test_weights_for_review(teeth: pd.DataFrame) -> None:
    # glm(seen ~ level + case-mix + factor(clinician)); lm(y ~ level, weights), vcovCL "HC0"
    due = teeth[(teeth["is_due"] == 1) & (teeth["is_lost_other"] == 0)]
    due = due[due["level"].isin(LEVELS)].dropna(subset=COVARIATES[:3])
    clinicians = pd.get_dummies(due["clinician"], dtype=float).iloc[:, 1:]
    covariates = np.hstack([due[COVARIATES[:3]].to_numpy(float), clinicians.to_numpy()])
    terms = [*COVARIATES[:3], *(str(name) for name in clinicians)]
    found = review_weights(
        due["y"].notna(), due[["short", "beyond"]].to_numpy(), covariates,
        exposure_terms=("short", "beyond"), covariate_terms=terms, truncation=None,
    )  # fmt: skip
    assert found.n_reviewed == 462
    close(
        [found.mean, found.largest, found.effective_n],
        [1.00163081929, 2.07524017403, 430.586947864],
    )
    lesion = found.model.terms.index("lesion")
    close(found.model.coefficients[lesion].estimate, [0.363404312166])
    close(found.model.standard_errors[lesion], [0.151339857039])
    expected = {
        "short": [0.102971876683, 0.0107380289499, 0.195205724415],
        "beyond": [0.0894820010628, 0.00313533695992, 0.175828665166],
    }
    for level, values in expected.items():
        exposed = due["level"].map({level: 1.0, "within": 0.0})
        item = weighted_risk_difference(
            due["y"], exposed, found.weights, cluster=due["patient"]
        ).difference
        close(ends(item), values)


def test_teeth_kept(teeth: pd.DataFrame) -> None:
    # survfit(Surv(months, lost) ~ 1, cluster = patient, conf.type = "log-log", robust = TRUE)
    seen = teeth.dropna(subset=["days"])
    curve = kaplan_meier(
        seen["days"] / 30.4375, seen["lost"], times=(14, 24), cluster=seen["patient"]
    )
    for point in curve.points:
        close(ends(point.survival), [0.956247844535, 0.922933515322, 0.975351870186])
        close(point.standard_error, [0.012740016123])


def test_lesions_healed_between_reviews(teeth: pd.DataFrame) -> None:
    # EM over the steps between all ends; survfit(type = "interval2") stops early at 0.7469
    lesions = teeth.dropna(subset=["left"])
    right = lesions["right"].fillna(np.inf)
    found = turnbull(lesions["left"], right, times=(14, 24))
    close(1 - np.array(found.survival), [0.746730455565, 0.855653684278])


def test_healing_by_year(teeth: pd.DataFrame) -> None:
    # glm(hit ~ 0 + factor(period) + short + beyond); vcovCL(cluster = patient, "HC0")
    lesions = teeth[teeth["level"].isin(LEVELS)].dropna(subset=["left"])
    right = lesions["right"].replace(np.inf, np.nan).to_numpy(float)
    event = np.isfinite(right)
    years = np.where(event, np.maximum(np.round(right / 12), 1), np.round(lesions["left"] / 12))
    periods = person_periods(
        years, event.astype(float), period_length=1.0, n_periods=int(years.max())
    )
    rows = lesions.iloc[periods.unit]
    fit = fit_discrete_time(
        periods.event, periods.period, rows[["short", "beyond"]].to_numpy(),
        terms=("short", "beyond"), cluster=rows["patient"],
    )  # fmt: skip
    close(fit.vector()[-2:], [-0.753772228626, -1.23995231101])
    close(fit.standard_errors[-2:], [0.42123611728, 0.398619852789])


@pytest.fixture(scope="module")
def small(complete: pd.DataFrame) -> pd.DataFrame:
    """Return the first patients, with one event among the teeth filled short."""
    part = complete.sort_values("patient", kind="stable")
    part = part[part["patient"] < 140]
    again = part.duplicated(["short", "y"]) & (part["short"] == 1) & (part["y"] == 1)
    return part[~again]


@pytest.mark.parametrize(
    ("covariance", "errors"),
    [
        ("robust", [1.66867573271, 1.27145608106, 1.05861280638, 1.39159603193]),
        ("mancl_derouen", [1.7286975725, 1.51551159961, 1.13992125914, 1.44647823926]),
        ("kauermann_carroll", [1.6982194531, 1.38661940517, 1.09783352693, 1.41848871395]),
    ],
)
def test_small_and_nearly_separated(small: pd.DataFrame, covariance: str, errors) -> None:
    # gee(..., "exchangeable"); corrections from dense matrices of each patient
    fit = fit_gee(
        small["y"], design_of(small, "short", "beyond", "lesion"), small["patient"],
        terms=TERMS[:4], covariance=covariance,
    )  # fmt: skip
    assert (fit.n_used, fit.n_clusters, fit.n_events) == (96, 86, 10)
    close(fit.vector(), [-5.11417737761, 0.00319821664922, 2.50217458133, 3.65902734753], 1e-5)
    close(fit.standard_errors, errors)


def test_penalised_fit_near_and_at_separation(small: pd.DataFrame) -> None:
    design = design_of(small, "short", "beyond", "lesion")
    near = fit_firth(small["y"], design, terms=TERMS[:4])
    close(ends(near.fit.coefficient("short")), [0.252634730564, -2.25270282249, 2.35264409113])
    apart = small[~((small["short"] == 1) & (small["y"] == 1))]
    at = fit_firth(apart["y"], design_of(apart, "short", "beyond", "lesion"), terms=TERMS[:4])
    assert at.separated_terms
    close(at.fit.vector(), [-4.58351584742, -0.835463360333, 2.34145744311, 3.1997199334])
