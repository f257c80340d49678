"""Equivalence of two methods within a margin stated beforehand (A8)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement.pairs import (
    MINIMUM_PAIRS,
    NO_VARIATION,
    complete_pairs,
    too_few,
)
from lengthwise.statistics.clusters import (
    cluster_robust_least_squares,
)
from lengthwise.statistics.results import NAN, Estimate


@dataclass(frozen=True, slots=True)
class Equivalence:
    """Two one-sided tests of the mean difference against a margin stated beforehand.

    `bias` has the interval of level 1 - 2 alpha; `is_equivalent` says whether it lies inside
    the margin. Not being equivalent is not the same as being different.
    """

    bias: Estimate
    t_lower: float
    t_upper: float
    p_lower: float
    p_upper: float
    degrees_of_freedom: float
    is_equivalent: bool
    valid: bool
    reason: str


def paired_equivalence(
    method: ArrayLike,
    reference: ArrayLike,
    *,
    lower_margin: float,
    upper_margin: float,
    alpha: float = 0.05,
    patient: ArrayLike | None = None,
    minimum_pairs: int = MINIMUM_PAIRS,
) -> Equivalence:
    """Return the equivalence of `method` (n,) and `reference` (n,) in their unit.

    With `patient` the error is cluster-robust (CR2, Satterthwaite). Source: Schuirmann DJ. J
    Pharmacokinet Biopharm 1987;15:657-680, doi:10.1007/BF01068419.
    """
    if not lower_margin < upper_margin:
        raise ValueError("lower_margin must be below upper_margin.")
    pairs = complete_pairs(method, reference)
    n, level = pairs.n_used, 1 - 2 * alpha
    name = "bias; two one-sided tests"
    codes, count = pairs.codes(patient)
    reason = too_few(n, max(minimum_pairs, 2)) or too_few(count, 2, what="patients")
    if not reason and np.ptp(pairs.difference) == 0:
        reason = NO_VARIATION
    if reason:
        none = pairs.refused(reason, name, level)
        return Equivalence(none, NAN, NAN, NAN, NAN, NAN, False, False, reason)
    # With one pair per label CR2 is the ordinary standard error and has n-1 degrees.
    fit = cluster_robust_least_squares(np.ones((n, 1)), pairs.difference, codes)
    parts = (fit.coefficients, fit.se_cr2, fit.degrees_of_freedom)
    bias, se, freedom = (float(one[0]) for one in parts)
    if se <= np.finfo(float).eps * np.ptp(pairs.difference):
        # The differences vary inside patients only, and every patient has the same mean.
        none = pairs.refused(NO_VARIATION, name, level)
        return Equivalence(none, NAN, NAN, NAN, NAN, NAN, False, False, NO_VARIATION)
    t_lower, t_upper = (bias - lower_margin) / se, (bias - upper_margin) / se
    p_lower = float(stats.t.sf(t_lower, freedom))
    p_upper = float(stats.t.cdf(t_upper, freedom))
    estimate = pairs.around(bias, stats.t.ppf(1 - alpha, freedom) * se, level, name)
    return Equivalence(
        estimate,
        t_lower,
        t_upper,
        p_lower,
        p_upper,
        freedom,
        max(p_lower, p_upper) < alpha,
        True,
        "",
    )
