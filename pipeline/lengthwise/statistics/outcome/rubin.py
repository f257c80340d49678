"""Rubin's rules: one answer from several completed copies of the data."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.model_fit import ModelFit, critical_value, two_sided_p
from lengthwise.statistics.results import Estimate, refused

METHOD = "Rubin's rules, Barnard-Rubin degrees of freedom"


@dataclass(frozen=True, slots=True)
class PooledTerm:
    """One quantity over all imputations.

    Attributes
    ----------
    value : Estimate
        Mean with its t interval.
    standard_error, degrees_of_freedom, p_value : float
    within, between, total : float
        Mean variance, variance of the estimates, and within + (1 + 1/m) between.
    relative_increase : float
        (1 + 1/m) between / within.
    share_of_variance : float
        (1 + 1/m) between / total.
    fraction_missing : float
        Fraction of information missing.
    """

    term: str
    value: Estimate
    standard_error: float
    degrees_of_freedom: float
    p_value: float
    within: float
    between: float
    total: float
    relative_increase: float
    share_of_variance: float
    fraction_missing: float


def pool_scalar(
    estimates: ArrayLike,
    variances: ArrayLike,
    *,
    complete_degrees: float = math.inf,
    term: str = "",
    level: float = 0.95,
    n_used: int = 0,
) -> PooledTerm:
    """Pool m estimates of one quantity with their squared standard errors.

    Parameters
    ----------
    estimates, variances : array of shape (m,)
    complete_degrees : float
        Residual degrees of freedom had nothing been missing; infinite gives Rubin's own.
    level : float
        Confidence level, 0-1.

    Returns
    -------
    PooledTerm
        Its value is not valid with fewer than two imputations.

    Notes
    -----
    Sources: Rubin 1987, 10.1002/9780470316696; Barnard & Rubin 1999, 10.1093/biomet/86.4.948.
    """
    q, u = np.asarray(estimates, dtype=float), np.asarray(variances, dtype=float)
    if q.ndim != 1 or q.shape != u.shape:
        raise ValueError("estimates and variances must both be of shape (m,)")
    m = q.size
    if m < 2:
        nothing = refused(
            "at least two imputations are needed", method=METHOD, n_used=n_used, level=level
        )
        return PooledTerm(term, nothing, *(math.nan,) * 9)
    within, between = float(u.mean()), float(q.var(ddof=1))
    spread = (1 + 1 / m) * between
    total = within + spread
    share = spread / total if total > 0 else 0.0
    freedom = _degrees(m, share, complete_degrees)
    increase = spread / within if within > 0 else math.inf
    missing = (increase + 2 / (freedom + 3)) / (1 + increase) if increase < math.inf else 1.0
    error = math.sqrt(total)
    mean = float(q.mean())
    half = critical_value(level, freedom) * error
    p_value = float(two_sided_p(np.array(mean / error), freedom)) if error > 0 else math.nan
    value = Estimate(mean, mean - half, mean + half, level, n_used, 0, METHOD)
    return PooledTerm(
        term, value, error, freedom, p_value, within, between, total, increase, share, missing
    )


def pool_fits(
    fits: Sequence[ModelFit], *, complete_degrees: float = math.inf, level: float = 0.95
) -> tuple[PooledTerm, ...]:
    """Pool the same model fitted to each completed copy, term by term.

    Copies whose fit was refused are left out; with fewer than two left every term is
    refused.
    """
    good = [fit for fit in fits if fit.valid]
    if not fits:
        raise ValueError("at least one fit is needed")
    if len(good) < 2:
        return tuple(pool_scalar([], [], term=term, level=level) for term in fits[0].terms)
    values = np.stack([fit.vector() for fit in good])
    errors = np.array([fit.standard_errors for fit in good])
    return tuple(
        pool_scalar(
            values[:, i],
            errors[:, i] ** 2,
            complete_degrees=complete_degrees,
            term=term,
            level=level,
            n_used=good[0].n_used,
        )
        for i, term in enumerate(good[0].terms)
    )


def _degrees(m: int, share: float, complete: float) -> float:
    # A share so small that its square is 0 leaves the degrees of freedom unlimited.
    old = (m - 1) / share**2 if share**2 > 0 else math.inf
    if math.isinf(complete):
        return old
    observed = (complete + 1) / (complete + 3) * complete * (1 - share)
    return observed if math.isinf(old) else old * observed / (old + observed)
