"""Outcome: ratios and differences of risk, weighted, crude and over time, in known practices.

The outcome of a tooth is drawn so that its marginal risk is exactly that of a logistic model,
and teeth of one patient are alike through a normal threshold: the adjusted odds ratio that the
equations estimate is then known, and so are standardised risks over the teeth drawn.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy import stats
from scipy.optimize import brentq

from lengthwise.statistics.outcome.adjusted import AdjustedAssociation, adjusted_association
from lengthwise.statistics.outcome.firth import fit_firth
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.model_fit import ModelFit
from lengthwise.statistics.outcome.model_plan import CovariateGroup
from lengthwise.statistics.outcome.simulated_limits import simulated_limit
from lengthwise.statistics.outcome.standardisation import designs_by_level, standardised_risks
from lengthwise.statistics.results import Estimate, refused

from .study import Cell, Study, Tried

TERMS = ("intercept", "short", "beyond", "lesion")
LOG_ODDS = np.array([0.4, 0.8, 0.7])
SHARES = {"short": 0.25, "beyond": 0.20, "lesion": 0.40}
# Of the normal threshold: teeth of one patient not healed together, and filled alike.
ALIKE_OUTCOME, ALIKE_LEVEL = 0.2, 0.25
LEVELS = {"within": {1: 0.0, 2: 0.0}, "short": {1: 1.0, 2: 0.0}, "beyond": {1: 0.0, 2: 1.0}}
# The words by which a result says that its interval holds less, or more, than it should.
SAID = "in simulation"
Found = dict[str, Estimate]
Practice = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]


def intercept_for(share: float) -> float:
    """Return the intercept at which so large a share of all teeth is not healed."""
    levels = ((0.0, 1 - SHARES["short"] - SHARES["beyond"]), (LOG_ODDS[0], SHARES["short"]),
              (LOG_ODDS[1], SHARES["beyond"]))  # fmt: skip
    parts = [
        (weight * part, odds + extra)
        for odds, weight in levels
        for extra, part in ((0.0, 1 - SHARES["lesion"]), (LOG_ODDS[2], SHARES["lesion"]))
    ]
    weights, odds = (np.array(column) for column in zip(*parts, strict=True))
    return float(brentq(lambda a: weights @ _chance(a + odds) - share, -15, 15))


def _chance(log_odds: np.ndarray) -> np.ndarray:
    return np.asarray(1 / (1 + np.exp(-log_odds)))


def patients_of(cell: Cell, random: np.random.Generator) -> np.ndarray:
    """Return the patient of each tooth; every patient has at least one."""
    extra = random.poisson(cell["teeth_a_patient"] - 1, cell["patients"])
    return np.repeat(np.arange(cell["patients"]), 1 + extra)


def alike(patient: np.ndarray, likeness: float, random: np.random.Generator) -> np.ndarray:
    """Return standard normal values (n,) that teeth of one patient share in part."""
    own = random.standard_normal(patient.size)
    shared = random.standard_normal(patient.max() + 1)[patient]
    return np.asarray(np.sqrt(likeness) * shared + np.sqrt(1 - likeness) * own)


def practice(cell: Cell, random: np.random.Generator) -> Practice:
    """Return outcome, design with intercept, patient, and each tooth's own risk."""
    patient = patients_of(cell, random)
    place = stats.norm.cdf(alike(patient, ALIKE_LEVEL, random))
    short, beyond = place < SHARES["short"], place > 1 - SHARES["beyond"]
    lesion = random.random(patient.size) < SHARES["lesion"]
    design = np.column_stack([np.ones(patient.size), short, beyond, lesion]).astype(float)
    risk = _chance(design @ np.array([intercept_for(cell["share"]), *LOG_ODDS]))
    drawn = stats.norm.cdf(alike(patient, ALIKE_OUTCOME, random)) < risk
    return drawn.astype(float), design, patient, risk


def truths(cell: Cell, design: np.ndarray) -> dict[str, float]:
    """Return the log odds ratios, and the differences of risk over this practice's teeth."""
    found = {"log odds ratio, short": LOG_ODDS[0], "log odds ratio, beyond": LOG_ODDS[1]}
    base = intercept_for(cell["share"]) + LOG_ODDS[2] * design[:, 3]
    for place, level in enumerate(("short", "beyond")):
        apart = _chance(base + LOG_ODDS[place]) - _chance(base)
        found[f"difference of risk, {level}"] = float(apart.mean())
    return {name: float(value) for name, value in found.items()}


def of_fit(fit: ModelFit, design: np.ndarray) -> Found:
    """Return the four quantities of a fit, refused with its reason where there is none."""
    found = {}
    risks = standardised_risks(fit, designs_by_level(design, LEVELS), reference="within")
    nothing = refused(fit.reason, method=fit.method)
    for level in ("short", "beyond"):
        found[f"log odds ratio, {level}"] = fit.coefficient(level)
        apart = risks.row(level).difference if risks.valid else None
        found[f"difference of risk, {level}"] = nothing if apart is None else apart
    return found


def equations(covariance: str) -> Callable[[Practice], Found]:
    """Return the estimating equations with one covariance."""

    def method(made: Practice) -> Found:
        outcome, design, patient, _ = made
        fit = fit_gee(outcome, design, patient, terms=TERMS, covariance=covariance)
        return of_fit(fit, design)

    return method


def penalised(made: Practice) -> Found:
    """Return the penalised fit with profile intervals."""
    outcome, design, _, _ = made
    return of_fit(fit_firth(outcome, design, terms=TERMS).fit, design)


def chosen(made: Practice) -> tuple[AdjustedAssociation, np.ndarray]:
    """Return what the report would fit; the lesion leaves first where events are few."""
    outcome, design, patient, _ = made
    found = adjusted_association(
        outcome, design[:, 1:3], design[:, 3:], patient, exposure_terms=TERMS[1:3],
        covariate_terms=TERMS[3:], covariate_order=[CovariateGroup("lesion", (0,))],
    )  # fmt: skip
    return found, found.design


def as_in_the_report(made: Practice) -> Found:
    """Return the fit that the events allow, with the limit that the report sets beside it."""
    found, design = chosen(made)
    values = of_fit(found.fit, design)
    for quantity, value in values.items():
        words = simulated_limit(
            found.fit, penalised=found.penalised, is_difference="difference" in quantity
        )
        values[quantity] = replace(value, reason=f"{value.reason}; {words}") if words else value
    return values


METHODS: dict[str, Callable[[Practice], Found]] = {
    "equations, robust": equations("robust"),
    "equations, Mancl-DeRouen": equations("mancl_derouen"),
    "equations, Kauermann-Carroll": equations("kauermann_carroll"),
    "penalised, profile": penalised,
    "as in the report": as_in_the_report,
}


def try_adjusted(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Return each method's four quantities over the simulations of a cell."""
    kept: dict[tuple[str, str], list[tuple[float, Estimate]]] = {}
    for _ in range(simulations):
        made = practice(cell, random)
        truth = truths(cell, made[1])
        for method, run in METHODS.items():
            for quantity, value in run(made).items():
                kept.setdefault((method, quantity), []).append((truth[quantity], value))
    return [tried_of(method, quantity, pairs) for (method, quantity), pairs in kept.items()]


def tried_of(method: str, quantity: str, pairs: list[tuple[float, Estimate]]) -> Tried:
    """Return the intervals of one quantity as arrays, NaN where it was refused."""
    nan = float("nan")
    rows = [
        (truth, *((value.estimate, value.lower, value.upper) if value.valid else (nan,) * 3))
        for truth, value in pairs
    ]
    truth, estimate, lower, upper = np.array(rows, dtype=float).T
    stated = np.array([value.valid and SAID in value.reason for _, value in pairs])
    return Tried(method, quantity, truth, estimate, lower, upper, stated)


STUDIES = (
    Study(
        "outcome_adjusted",
        "C2 to C4: adjusted odds ratios and standardised differences of risk by level",
        {
            "patients": (20, 50, 100, 200, 500),
            "teeth_a_patient": (1.3, 4.0),
            "share": (0.03, 0.1, 0.3),
        },
        try_adjusted,
        simulations=1000,
    ),
)
