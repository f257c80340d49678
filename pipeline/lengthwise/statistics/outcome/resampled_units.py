"""One answer from many draws of one unit out of each group."""

import math

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.model_fit import critical_value
from lengthwise.statistics.results import Estimate, refused

METHOD = "mean over {} draws of one unit a group"


def combine_draws(
    estimates: ArrayLike,
    variances: ArrayLike,
    *,
    level: float = 0.95,
    n_used: int = 0,
    n_missing: int = 0,
) -> Estimate:
    """Combine one quantity over draws in which each group gives one unit at random.

    Parameters
    ----------
    estimates, variances : array of shape (m,)
        Of each draw; draws without a fit are NaN and left out.
    level : float
        Confidence level, 0-1.

    Returns
    -------
    Estimate
        Mean; its variance is the mean variance less the variance between draws, since draws
        share the same groups. Refused with fewer than two draws. Where the spread between
        draws is the larger, the mean variance stands, which is too wide, and a note says so.

    Notes
    -----
    Unlike the worst unit of a group, one unit at random does not grow more extreme with the
    number of units. Source: Hoffman, Sen & Weinberg 2001, 10.1093/biomet/88.4.1121.
    """
    values, spreads = np.asarray(estimates, dtype=float), np.asarray(variances, dtype=float)
    if values.ndim != 1 or values.shape != spreads.shape:
        raise ValueError("estimates and variances must both be of shape (m,)")
    known = np.isfinite(values) & np.isfinite(spreads)
    count = int(known.sum())
    method = METHOD.format(count)
    if count < 2:
        reason = "no draw of one unit a group could be fitted"
        return refused(reason, method=method, n_used=n_used, n_missing=n_missing, level=level)
    within, between = float(spreads[known].mean()), float(values[known].var())
    variance, note = within - between, ""
    if variance <= 0:
        variance = within
        note = "draws differ as much as their errors: the interval is wider than need be"
    centre = float(values[known].mean())
    half = critical_value(level, math.inf) * math.sqrt(variance)
    counts = (level, n_used, n_missing)
    return Estimate(centre, centre - half, centre + half, *counts, method, True, note)
