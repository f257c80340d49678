"""Expected risks from a logistic model of case-mix, without terms for clinicians."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from lengthwise.statistics.process.control_chart import FloatArray

METHOD = "logistic model of case-mix without clinician terms"
MINIMUM_EVENTS = 5
EVENTS_PER_PARAMETER = 10
STEPS = 50


@dataclass(frozen=True, slots=True)
class CaseMixModel:
    """Coefficients and the expected risk of each case.

    Attributes
    ----------
    coefficients : tuple of float
        Intercept first, log odds.
    linear_predictor, risk : tuple of float
        One for each case given, in its order; NaN where a covariate was missing.
    n_used, n_missing : int
        Cases that fitted the model, and cases set aside.
    """

    coefficients: tuple[float, ...]
    linear_predictor: tuple[float, ...]
    risk: tuple[float, ...]
    n_used: int
    n_missing: int
    method: str = METHOD
    valid: bool = True
    reason: str = ""


def expected_risks(
    outcome: ArrayLike,
    covariates: ArrayLike,
    *,
    events_per_parameter: int = EVENTS_PER_PARAMETER,
    minimum_events: int = MINIMUM_EVENTS,
) -> CaseMixModel:
    """Fit log odds = intercept + covariates and return each case's expected risk.

    Parameters
    ----------
    outcome : array_like of 0, 1 or NaN, shape (n_cases,)
    covariates : array_like of float, shape (n_cases, n_covariates)
        Case-mix known before the treatment; never who treated. A case with a missing value
        does not enter the fit; one with a missing outcome only still gets its risk.
    events_per_parameter : int
        Events (or non-events, the rarer) needed for each slope.
    minimum_events : int
        Fewer events than this: no model.

    Returns
    -------
    CaseMixModel

    Raises
    ------
    ValueError
        When shapes differ or an outcome is not 0 or 1.

    Notes
    -----
    Maximum likelihood by iteratively reweighted least squares. Point estimates need no
    correction for clustering; their intervals are not shown.

    References
    ----------
    McCullagh P, Nelder JA. Generalized Linear Models, 2nd ed. 1989, section 4.4.
    """
    event = np.asarray(outcome, dtype=float)
    table = np.asarray(covariates, dtype=float)
    if event.ndim != 1 or table.ndim != 2 or table.shape[0] != event.size:
        raise ValueError("covariates need one row for each outcome")
    known = np.isfinite(table).all(axis=1)
    used = known & np.isfinite(event)
    if np.any((event[used] != 0) & (event[used] != 1)):
        raise ValueError("outcome must be 0 or 1")
    design = np.column_stack([np.ones(event.size), table])
    rarer = int(min(event[used].sum(), used.sum() - event[used].sum()))
    reason = _too_sparse(rarer, table.shape[1], events_per_parameter, minimum_events)
    coefficients = np.full(design.shape[1], np.nan)
    if not reason:
        coefficients, reason = _fitted(event[used], design[used])
    predictor = np.where(known, np.nan_to_num(design) @ coefficients, np.nan)
    return CaseMixModel(
        coefficients=tuple(coefficients.tolist()),
        linear_predictor=tuple(predictor.tolist()),
        risk=tuple(special.expit(predictor).tolist()),
        n_used=int(used.sum()),
        n_missing=int((~used).sum()),
        valid=not reason,
        reason=reason,
    )


def _too_sparse(rarer: int, slopes: int, per_parameter: int, minimum: int) -> str:
    if rarer < minimum:
        return f"{rarer} events (or cases without), fewer than {minimum}: no model"
    if rarer < per_parameter * slopes:
        return (
            f"{rarer} events for {slopes} covariates, fewer than {per_parameter} each: "
            "use fewer covariates"
        )
    return ""


def _fitted(event: FloatArray, design: FloatArray) -> tuple[FloatArray, str]:
    blank = np.full(design.shape[1], np.nan)
    if np.linalg.matrix_rank(design) < design.shape[1]:
        return blank, "two covariates say the same thing: drop one"
    beta = np.zeros(design.shape[1])
    for _ in range(STEPS):
        risk = special.expit(design @ beta)
        weight = risk * (1 - risk)
        if weight.max() < 1e-8:
            break
        step = np.linalg.lstsq(
            design.T @ (design * weight[:, None]), design.T @ (event - risk), rcond=None
        )[0]
        beta = beta + step
        if np.abs(step).max() < 1e-10:
            return beta, ""
    return blank, "a covariate separates events from non-events: the model has no finite fit"
