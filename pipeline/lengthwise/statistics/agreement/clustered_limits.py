"""Limits of agreement for canals in teeth in patients (A2)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement.mover import limit_distances, variance_interval
from lengthwise.statistics.agreement.nested import (
    MeanSquares,
    NestedComponents,
    component_values,
    mean_squares_of,
    nested_components,
    patient_sums,
    refused_components,
    separable_levels,
    total_weights,
)
from lengthwise.statistics.agreement.nested_likelihood import nested_components_reml
from lengthwise.statistics.agreement.pairs import (
    MINIMUM_PAIRS,
    Pairs,
    complete_pairs,
    too_few,
    warning_for,
)
from lengthwise.statistics.clusters import (
    ClusterRobustFit,
    FloatArray,
    IntArray,
    cluster_codes,
    cluster_robust_least_squares,
)
from lengthwise.statistics.resampling import bca_bounds, cluster_bootstrap, cluster_jackknife
from lengthwise.statistics.results import Estimate, refused

ESTIMATORS = ("closed_form", "reml")
INTERVALS = ("mover", "bootstrap")
# In simulation the bootstrap held the true limit in 91 to 95 of 100 runs with 15 patients.
BOOTSTRAP_PATIENTS = 30
FEW_FOR_BOOTSTRAP = (
    "with fewer than 30 patients the bootstrap interval is too narrow: use MOVER"
)


@dataclass(frozen=True, slots=True)
class ClusteredLimits:
    """Bias and limits over all canals, with intervals that allow for patients.

    `bias` weighs every canal the same and has a cluster-robust interval; the limits are
    bias -/+ multiplier * `standard_deviation`, the root of the summed components.
    """

    bias: Estimate
    standard_deviation: Estimate
    lower: Estimate
    upper: Estimate
    components: NestedComponents
    multiplier: float
    coverage: float
    n_patients: int


def clustered_limits(
    method: ArrayLike,
    reference: ArrayLike,
    *,
    patient: ArrayLike,
    tooth: ArrayLike | None = None,
    canal: ArrayLike | None = None,
    coverage: float = 0.95,
    multiplier: float | None = None,
    estimator: str = "closed_form",
    interval: str = "mover",
    draws: int = 2000,
    seed: int = 20240601,
    level: float = 0.95,
    minimum_pairs: int = MINIMUM_PAIRS,
) -> ClusteredLimits:
    """Return bias and limits of `method` (n,) against `reference` (n,), by patient.

    Parameters
    ----------
    patient, tooth, canal : array_like (n,)
        Labels; a tooth counts within its patient, a canal within its tooth. Give `canal`
        only when a canal has several rows (readings).
    estimator : str
        "closed_form" or "reml" for the components. MOVER distances around a REML total are
        those of the closed form, in proportion.
    interval : str
        "mover" (Zou GY. Stat Methods Med Res 2013;22:630-642, doi:10.1177/0962280211402548,
        carried on to more levels by means of means) or "bootstrap" (whole patients, BCa).
    minimum_pairs : int
        Fewer pairs or patients than this: no limits. Fewer than 20: a warning.

    Notes
    -----
    Incomplete pairs are set aside and counted. Patients are taken as independent; MOVER
    takes the parts as normal, the bootstrap does not.
    """
    if estimator not in ESTIMATORS or interval not in INTERVALS:
        raise ValueError(f"estimator must be in {ESTIMATORS} and interval in {INTERVALS}.")
    if interval == "bootstrap" and estimator != "closed_form":
        raise ValueError("the bootstrap is offered with the closed form only.")
    pairs = complete_pairs(method, reference)
    k = float(stats.norm.ppf((1 + coverage) / 2)) if multiplier is None else float(multiplier)
    levels = _levels(pairs, {"patient": patient, "tooth": tooth, "canal": canal})
    patients = cluster_codes(levels["patient"])[1]
    reason = too_few(pairs.n_used, max(minimum_pairs, 2)) or too_few(
        patients, max(minimum_pairs, 2), what="patients"
    )
    if reason:
        return _refused(reason, pairs, k, coverage, level, patients)
    fit = nested_components_reml if estimator == "reml" else nested_components
    components = fit(pairs.difference, levels)
    if not components.valid:
        return _refused(components.reason, pairs, k, coverage, level, patients)
    robust = cluster_robust_least_squares(
        np.ones((pairs.n_used, 1)), pairs.difference, levels["patient"]
    )
    options = _Options(k, coverage, level, draws, seed, interval)
    return _with_intervals(pairs, levels, components, robust, options)


def _levels(pairs: Pairs, given: dict[str, ArrayLike | None]) -> dict[str, ArrayLike]:
    """Return the labels of the kept rows for the levels that were given."""
    return {
        name: np.asarray(one)[pairs.known] for name, one in given.items() if one is not None
    }


@dataclass(frozen=True, slots=True)
class _Options:
    multiplier: float
    coverage: float
    level: float
    draws: int
    seed: int
    interval: str


def _with_intervals(
    pairs: Pairs,
    levels: dict[str, ArrayLike],
    components: NestedComponents,
    robust: ClusterRobustFit,
    options: _Options,
) -> ClusteredLimits:
    bias = robust.coefficient(0, level=options.level, name="bias over canals")
    sd = float(np.sqrt(components.total_variance))
    reach, centre = options.multiplier * sd, bias.estimate
    compute = _mover_bounds if options.interval == "mover" else _bootstrap_bounds
    bounds = compute(pairs.difference, levels, components, bias, options)
    words = (
        "MOVER" if options.interval == "mover" else f"patient bootstrap BCa, {options.draws}"
    )
    few = options.interval == "bootstrap" and robust.n_clusters < BOOTSTRAP_PATIENTS
    notes = (
        warning_for(robust.n_clusters, what="patients"),
        FEW_FOR_BOOTSTRAP if few else "",
        components.reason,
    )
    note = "; ".join(one for one in notes if one)

    def given(value: float, pair: tuple[float, float], name: str) -> Estimate:
        n, missing = pairs.n_used, pairs.n_missing
        return Estimate(value, *pair, options.level, n, missing, name, True, note)

    name = f"{components.method}; {words}"
    return ClusteredLimits(
        given(centre, (bias.lower, bias.upper), bias.method),
        given(sd, bounds[0], f"total SD; {name}"),
        given(centre - reach, bounds[1], f"lower limit; {name}"),
        given(centre + reach, bounds[2], f"upper limit; {name}"),
        components,
        options.multiplier,
        options.coverage,
        robust.n_clusters,
    )


Bounds = list[tuple[float, float]]


def _mover_bounds(
    difference: FloatArray,
    levels: dict[str, ArrayLike],
    components: NestedComponents,
    bias: Estimate,
    options: _Options,
) -> Bounds:
    """Return bounds of the total SD, the lower and the upper limit."""
    kept = separable_levels(levels, len(difference))
    total = components.total_variance
    if kept:
        work = patient_sums(difference, kept)
        found = mean_squares_of(work.sums.sum(axis=0), len(work.names))
        squares, weights, freedom = found.mean_squares, total_weights(found), found.freedom
    else:
        squares, weights = np.array([total]), np.ones(1)
        freedom = np.array([len(difference) - 1.0])
    interval = variance_interval(squares, weights, freedom, level=options.level)
    if interval.variance > 0 and total > 0:
        ratio = total / interval.variance
        interval = type(interval)(total, interval.lower * ratio, interval.upper * ratio)
    half = (bias.upper - bias.lower) / 2
    inward, outward = limit_distances(interval, half, options.multiplier)
    reach = options.multiplier * float(np.sqrt(total))
    low, high = bias.estimate - reach, bias.estimate + reach
    spread = (float(np.sqrt(interval.lower)), float(np.sqrt(interval.upper)))
    return [spread, (low - outward, low + inward), (high - inward, high + outward)]


def _bootstrap_bounds(
    difference: FloatArray,
    levels: dict[str, ArrayLike],
    components: NestedComponents,
    bias: Estimate,
    options: _Options,
) -> Bounds:
    """Return the same bounds by resampling patients; only sums by patient are needed."""
    kept = separable_levels(levels, len(difference)) or [_patients(levels)]
    work = patient_sums(difference, kept)
    n_components, k = len(work.names), options.multiplier

    def statistic(sums: FloatArray) -> FloatArray:
        found = mean_squares_of(sums, n_components)
        sd = _total_sd(found)
        centre = found.row_mean + work.centre
        return np.stack([sd, centre - k * sd, centre + k * sd], axis=-1)

    estimate = statistic(work.sums.sum(axis=0))
    left_out = cluster_jackknife(work.sums, statistic)
    found = cluster_bootstrap(work.sums, statistic, draws=options.draws, seed=options.seed)
    low, high = bca_bounds(estimate, found, left_out, level=options.level)
    return [(float(a), float(b)) for a, b in zip(low, high, strict=True)]


def _patients(levels: dict[str, ArrayLike]) -> tuple[str, IntArray, int]:
    codes, count = cluster_codes(levels["patient"])
    return "patient", codes, count


def _total_sd(found: MeanSquares) -> FloatArray:
    return np.sqrt(np.maximum(component_values(found).sum(axis=-1), 0.0))


def _refused(
    reason: str, pairs: Pairs, k: float, coverage: float, level: float, patients: int
) -> ClusteredLimits:
    names = ("bias over canals", "total SD", "lower limit", "upper limit")
    none = [
        refused(
            reason, method=name, n_used=pairs.n_used, n_missing=pairs.n_missing, level=level
        )
        for name in names
    ]
    bias, total, lower, upper = none
    components = refused_components(reason, "", pairs.n_used)
    return ClusteredLimits(bias, total, lower, upper, components, k, coverage, patients)
