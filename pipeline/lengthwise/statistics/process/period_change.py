"""Change of a criterion between two periods, and whether it was sustained."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from lengthwise.statistics.clusters import ClusterRobustFit, cluster_robust_least_squares
from lengthwise.statistics.process.control_chart import MINIMUM_POINTS, FloatArray, as_points
from lengthwise.statistics.process.differences import newcombe_difference
from lengthwise.statistics.process.run_chart import run_chart_limits
from lengthwise.statistics.results import NAN, Estimate, refused

VARIANCES = ("CR2", "CR1")
MINIMUM_CASES = 10
MINIMUM_CLUSTERS = 10
WITHOUT_SPREAD = (
    "each period has one result only: the interval takes cases as independent, since the "
    "likeness within patients cannot be estimated"
)


@dataclass(frozen=True, slots=True)
class PeriodChange:
    """Share before, share after, and their difference.

    Attributes
    ----------
    before, after : float
        Shares 0-1; NaN where a period is too small.
    n_before, n_after, n_clusters : int
    change : Estimate
        After minus before, -1 to 1, with a cluster-robust interval.
    fit : ClusterRobustFit or None
        Standard errors CR0, CR1 and CR2 of (before, change).
    """

    before: float
    after: float
    n_before: int
    n_after: int
    n_clusters: int
    change: Estimate
    fit: ClusterRobustFit | None


def period_change(
    outcome: ArrayLike,
    is_after: ArrayLike,
    cluster: ArrayLike,
    *,
    variance: str = "CR2",
    level: float = 0.95,
    minimum_cases: int = MINIMUM_CASES,
    minimum_clusters: int = MINIMUM_CLUSTERS,
) -> PeriodChange:
    """Difference of a share between two named periods; patients may be in both.

    Parameters
    ----------
    outcome : array_like of 0, 1 or NaN, shape (n_cases,)
        Whether the case met the criterion. Missing cases are set aside and counted.
    is_after : array_like of bool, shape (n_cases,)
        True in the later period.
    cluster : array_like of shape (n_cases,)
        Patient of each case, without gaps.
    variance : {"CR2", "CR1"}
        CR2 with Satterthwaite degrees of freedom, or CR1 with clusters - 1.
    level : float
        Confidence level, 0-1.
    minimum_cases, minimum_clusters : int
        A smaller period gives counts only; fewer patients give no interval and no change.

    Returns
    -------
    PeriodChange
        Where both shares are 0 or 1 the interval is Newcombe's for independent cases, and
        `change.reason` says so. An association with time, never a proof that the action
        caused it.

    Raises
    ------
    ValueError
        When shapes differ, an outcome is not 0 or 1, or the variance is unknown.

    References
    ----------
    Bell RM, McCaffrey DF. Surv Methodol 2002;28:169-181.
    Pustejovsky JE, Tipton E. J Bus Econ Stat 2018;36:672-683.
    doi:10.1080/07350015.2016.1247004
    """
    if variance not in VARIANCES:
        raise ValueError(f"variance must be one of {VARIANCES}, got {variance!r}")
    event, after = np.asarray(outcome, dtype=float), np.asarray(is_after, dtype=bool)
    patient = np.asarray(cluster)
    if event.ndim != 1 or not event.shape == after.shape == patient.shape:
        raise ValueError("outcome, is_after and cluster must have one common length")
    kept = np.isfinite(event)
    event, after, patient = event[kept], after[kept], patient[kept]
    if np.any((event != 0) & (event != 1)):
        raise ValueError("outcome must be 0 or 1")
    method = f"change between periods, cluster-robust {variance}, t interval"
    n_after, n_missing = int(after.sum()), int((~kept).sum())
    n_before, clusters = event.size - n_after, len(np.unique(patient))
    reason = _refusal(n_before, n_after, clusters, minimum_cases, minimum_clusters)
    if reason:
        none = refused(
            reason, method=method, n_used=event.size, n_missing=n_missing, level=level
        )
        return PeriodChange(NAN, NAN, n_before, n_after, clusters, none, None)
    design = np.column_stack([np.ones(event.size), after])
    fit = cluster_robust_least_squares(design, event, patient)
    before_share, after_share = float(event[~after].mean()), float(event[after].mean())
    if {before_share, after_share} <= {0.0, 1.0}:
        change = _without_spread(event, after, level, n_missing)
    else:
        change = _change(fit, variance, level, method, n_missing)
    return PeriodChange(before_share, after_share, n_before, n_after, clusters, change, fit)


def _refusal(before: int, after: int, clusters: int, cases: int, patients: int) -> str:
    for count, name in ((before, "before"), (after, "after")):
        if count < cases:
            return f"{count} cases {name}, fewer than {cases}: counts only"
    if clusters < patients:
        return f"{clusters} patients, fewer than {patients}: no interval for the change"
    return ""


def _change(
    fit: ClusterRobustFit, variance: str, level: float, method: str, n_missing: int
) -> Estimate:
    if not fit.valid:
        return refused(
            fit.reason, method=method, n_used=fit.n_used, n_missing=n_missing, level=level
        )
    value = float(fit.coefficients[1])
    error = float(fit.se_cr2[1] if variance == "CR2" else fit.se_cr1[1])
    freedom = float(fit.degrees_of_freedom[1]) if variance == "CR2" else fit.n_clusters - 1
    half = float(stats.t.ppf(0.5 + level / 2, freedom)) * error
    lower, upper = max(value - half, -1.0), min(value + half, 1.0)
    return Estimate(value, lower, upper, level, fit.n_used, n_missing, method)


def _without_spread(
    event: FloatArray, after: NDArray[np.bool_], level: float, n_missing: int
) -> Estimate:
    """Newcombe's interval where both shares are 0 or 1 and robust errors would be zero."""
    found = newcombe_difference(
        int(event[after].sum()), int(after.sum()), int(event[~after].sum()),
        int((~after).sum()), level=level,
    )  # fmt: skip
    return replace(found, n_missing=n_missing, reason=WITHOUT_SPREAD)


@dataclass(frozen=True, slots=True)
class Sustained:
    """Whether points after an action stay on the wanted side of the earlier median.

    Attributes
    ----------
    verdict : str
        "sustained", "not sustained" or "too early to say".
    baseline_median : float
        Median of the points before the action, frozen.
    current_run : int
        Latest unbroken run of useful points on the wanted side.
    run_needed : int
        Length the run must exceed.
    """

    verdict: str
    baseline_median: float
    current_run: int
    run_needed: int
    n_before: int
    n_after: int
    method: str = "latest run beyond the frozen earlier median, longer than the run limit"
    valid: bool = True
    reason: str = ""


def sustained_change(
    before: ArrayLike,
    after: ArrayLike,
    *,
    higher_is_wanted: bool,
    minimum_points: int = MINIMUM_POINTS,
) -> Sustained:
    """Judge whether a shift has lasted.

    The median of the points before is frozen. The change is sustained when the **latest**
    run on the wanted side is longer than round(log2 n + 3), n being the useful points of
    both periods; too early while the points after could not yet make such a run.

    Parameters
    ----------
    before, after : array_like of shape (n_points,)
        Monthly values of the two periods in the order of time; missing months are left out.
    higher_is_wanted : bool
        Direction of improvement.
    minimum_points : int
        Fewer points before: refused.

    Returns
    -------
    Sustained

    Raises
    ------
    ValueError
        When an array is not one-dimensional.

    References
    ----------
    The run limit is that of Anhoej J, Olesen AV. PLoS One 2014;9:e113825.
    doi:10.1371/journal.pone.0113825. Its use on a frozen median is this project's rule.
    """
    early, late = _present(before, "before"), _present(after, "after")
    if early.size < minimum_points:
        reason = f"not enough points before: {early.size} of at least {minimum_points}"
        return Sustained("", NAN, 0, 0, early.size, late.size, valid=False, reason=reason)
    median = float(np.median(early))
    side = (late[late != median] > median) == higher_is_wanted
    useful = int((early != median).sum()) + side.size
    limit = run_chart_limits(max(useful, 2)).longest_run
    turned = np.flatnonzero(~side[::-1])
    current = int(turned[0]) if turned.size else int(side.size)
    if current > limit:
        verdict = "sustained"
    else:
        verdict = "too early to say" if side.size <= limit else "not sustained"
    return Sustained(verdict, median, current, limit, early.size, late.size)


def _present(values: ArrayLike, name: str) -> FloatArray:
    points = as_points(values, name=name)
    return points[np.isfinite(points)]
