"""Whether a method's difference grows with length, and limits that follow it (A5)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement.pairs import (
    MINIMUM_PAIRS,
    NO_VARIATION,
    Pairs,
    complete_pairs,
    too_few,
    warning_for,
)
from lengthwise.statistics.clusters import (
    ClusterRobustFit,
    FloatArray,
    cluster_robust_least_squares,
)
from lengthwise.statistics.results import NAN, Estimate

SAME_MEAN = "all pairs have the same mean, so a slope cannot be seen"


@dataclass(frozen=True, slots=True)
class RegressionLimits:
    """Difference = intercept + slope * mean, with limits whose width may change with length.

    SD at a mean is sqrt(pi/2) * (spread_intercept + spread_slope * mean). `p_slope` is NaN,
    with the reason in `slope`, where it cannot be tested. `robust` holds all cluster-robust
    errors and is None for independent pairs.
    """

    intercept: Estimate
    slope: Estimate
    standard_error_slope: float
    p_slope: float
    residual_sd: float
    spread_intercept: float
    spread_slope: float
    multiplier: float
    n_clusters: int
    robust: ClusterRobustFit | None

    def limits_at(self, mean_mm: float) -> tuple[float, float]:
        """Return lower and upper limit at one mean; an SD below 0 counts as 0."""
        centre = self.intercept.estimate + self.slope.estimate * mean_mm
        sd = np.sqrt(np.pi / 2) * max(self.spread_intercept + self.spread_slope * mean_mm, 0.0)
        reach = float(self.multiplier * sd)
        return centre - reach, centre + reach


def regression_limits(
    method: ArrayLike,
    reference: ArrayLike,
    *,
    patient: ArrayLike | None = None,
    multiplier: float = 1.959963984540054,
    level: float = 0.95,
    minimum_pairs: int = MINIMUM_PAIRS,
) -> RegressionLimits:
    """Return the regression of method - reference (n,) on their mean.

    With `patient` the intervals are cluster-robust (CR2, Satterthwaite); without it pairs are
    taken as independent. A slope also arises when the two methods differ in precision, so it
    is a description. Source: Bland JM, Altman DG. Stat Methods Med Res 1999;8:135-160
    section 3.2, doi:10.1177/096228029900800204.
    """
    pairs = complete_pairs(method, reference)
    n = pairs.n_used
    codes, count = pairs.codes(patient)
    reason = too_few(n, max(minimum_pairs, 3))
    if patient is not None and not reason:
        reason = too_few(count, max(minimum_pairs, 2), what="patients")
    if not reason and np.ptp(pairs.mean) == 0:
        reason = SAME_MEAN
    if reason:
        return _refused(reason, pairs, multiplier, count, level)
    design = np.column_stack([np.ones(n), pairs.mean])
    fit = cluster_robust_least_squares(design, pairs.difference, codes)
    spread = np.linalg.lstsq(design, np.abs(fit.residuals), rcond=None)[0]
    residual_sd = float(np.sqrt(fit.residuals @ fit.residuals / (n - 2)))
    flat = np.ptp(pairs.difference) == 0
    errors, freedom = _errors(design, residual_sd, fit, n, clustered=patient is not None)
    intercept, slope = _estimates(pairs, fit.coefficients, errors, freedom, level, flat)
    ratio = abs(fit.coefficients[1]) / errors[1] if not flat else NAN
    p = float(2 * stats.t.sf(ratio, freedom[1]))
    return RegressionLimits(
        intercept,
        slope,
        float(errors[1]),
        p,
        residual_sd,
        float(spread[0]),
        float(spread[1]),
        multiplier,
        count,
        fit if patient is not None else None,
    )


def _errors(
    design: FloatArray, residual_sd: float, fit: ClusterRobustFit, n: int, *, clustered: bool
) -> tuple[FloatArray, FloatArray]:
    if clustered:
        return fit.se_cr2, fit.degrees_of_freedom
    inverse = np.linalg.inv(design.T @ design)
    return residual_sd * np.sqrt(np.diag(inverse)), np.full(2, n - 2.0)


def _estimates(
    pairs: Pairs,
    values: FloatArray,
    errors: FloatArray,
    freedom: FloatArray,
    level: float,
    flat: bool,
) -> tuple[Estimate, Estimate]:
    half = stats.t.ppf((1 + level) / 2, freedom) * errors
    note = f"{NO_VARIATION}: not tested" if flat else warning_for(pairs.n_used)
    names = [f"{name} of difference on mean" for name in ("intercept", "slope")]
    intercept, slope = (
        pairs.around(values[i], half[i], level, names[i], note) for i in range(2)
    )
    return intercept, slope


def _refused(
    reason: str, pairs: Pairs, multiplier: float, count: int, level: float
) -> RegressionLimits:
    none = pairs.refused(reason, "difference on mean", level)
    return RegressionLimits(none, none, NAN, NAN, NAN, NAN, NAN, multiplier, count, None)
