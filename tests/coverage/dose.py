"""Odds of not healing along the offset of the filling (C5) in known practices."""

from collections.abc import Callable

import numpy as np
from scipy import stats
from scipy.optimize import brentq

from lengthwise.statistics.outcome.dose_response import spline_response
from lengthwise.statistics.outcome.regression import fit_logistic
from lengthwise.statistics.results import Estimate, refused

from .outcome import ALIKE_LEVEL, ALIKE_OUTCOME, alike, patients_of, tried_of
from .study import Cell, Study, Tried

SHORT_MM, WITHIN_MM = -2.0, 0.0
MIDDLE_MM = (SHORT_MM + WITHIN_MM) / 2
PER_MM_SHORT, PER_MM_BEYOND, LESION = 0.5, 0.6, 0.7
# A straight line that the spline can follow without bending.
PER_MM_STRAIGHT = 0.4
WHERE_MM = (-3.0, 0.5)
EVENTS_PER_TERM = 10


def log_odds(offset: np.ndarray, shape: str) -> np.ndarray:
    """Return the log odds of not healing along the offset, without intercept and lesion."""
    if shape == "straight":
        return PER_MM_STRAIGHT * (offset - MIDDLE_MM)
    short, beyond = np.maximum(SHORT_MM - offset, 0), np.maximum(offset - WITHIN_MM, 0)
    return np.asarray(PER_MM_SHORT * short + PER_MM_BEYOND * beyond)


def known_odds(cell: Cell) -> Callable[[np.ndarray], np.ndarray]:
    """Return the risk of (offset, lesion) rows at which the wanted share is not healed."""
    random = np.random.default_rng(1)
    offset, lesion = offsets(random.standard_normal(200_000)), random.random(200_000) < 0.4
    base = log_odds(offset, cell["shape"]) + LESION * lesion
    at = float(brentq(lambda a: (1 / (1 + np.exp(-a - base))).mean() - cell["share"], -15, 15))
    return lambda odds: 1 / (1 + np.exp(-at - odds))


def offsets(normal: np.ndarray) -> np.ndarray:
    """Return offsets in mm, rounded as they are read: most within, fewer short or beyond."""
    return np.asarray(np.round(MIDDLE_MM + 1.1 * normal, 1))


def practice(
    cell: Cell, risk: Callable[[np.ndarray], np.ndarray], random: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return outcome, offset, lesion and patient of each tooth."""
    patient = patients_of(cell, random)
    offset = offsets(alike(patient, ALIKE_LEVEL, random))
    lesion = (random.random(patient.size) < 0.4).astype(float)
    chance = risk(log_odds(offset, cell["shape"]) + LESION * lesion)
    outcome = stats.norm.cdf(alike(patient, ALIKE_OUTCOME, random)) < chance
    return outcome.astype(float), offset, lesion, patient


def of_one(
    outcome: np.ndarray, offset: np.ndarray, lesion: np.ndarray, patient: np.ndarray,
    shape: str,
) -> dict[str, Estimate]:  # fmt: skip
    """Return slopes or points of the curve; refused as in the report with few events."""
    events = int(min(outcome.sum(), (1 - outcome).sum()))
    terms = 2 if shape == "two lines" else 3
    if events < EVENTS_PER_TERM * (terms + 1):
        nothing = refused("few events", method="dose-response")
        return dict.fromkeys(QUANTITIES[shape], nothing)
    if shape == "two lines":
        basis = np.column_stack(
            [np.ones_like(offset), np.maximum(SHORT_MM - offset, 0),
             np.maximum(offset - WITHIN_MM, 0), lesion]
        )  # fmt: skip
        fit = fit_logistic(
            outcome, basis, terms=("intercept", "short", "beyond", "lesion"), cluster=patient
        )
        return dict(
            zip(QUANTITIES[shape], (fit.ratio("short"), fit.ratio("beyond")), strict=True)
        )
    curve = spline_response(
        outcome, offset, at=WHERE_MM, reference=MIDDLE_MM, covariates=lesion[:, None],
        covariate_terms=("lesion",), cluster=patient,
    )  # fmt: skip
    if not curve.valid:
        nothing = refused(curve.reason, method="spline")
        return dict.fromkeys(QUANTITIES[shape], nothing)
    return dict(
        zip(QUANTITIES[shape], (point.odds_ratio for point in curve.curve), strict=True)
    )


QUANTITIES = {
    "two lines": ("odds ratio per mm short", "odds ratio per mm beyond"),
    "straight": tuple(f"odds ratio at {at:g} mm" for at in WHERE_MM),
}


def dose(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try the slopes where two lines hold, and the curve where one straight line does."""
    shape, risk = cell["shape"], known_odds(cell)
    truth = np.exp([PER_MM_SHORT, PER_MM_BEYOND])
    if shape == "straight":
        truth = np.exp(log_odds(np.array(WHERE_MM), shape))
    found = [of_one(*practice(cell, risk, random), shape) for _ in range(simulations)]
    return [
        tried_of("patient sandwich", name, [(float(true), one[name]) for one in found])
        for name, true in zip(QUANTITIES[shape], truth, strict=True)
    ]


STUDIES = (
    Study(
        "outcome_dose",
        "C5: odds of not healing per mm, and along a curve",
        {
            "patients": (100, 200, 500), "teeth_a_patient": (1.3, 4.0),
            "share": (0.1, 0.3), "shape": tuple(QUANTITIES),
        },
        dose,
        simulations=500,
    ),
)  # fmt: skip
