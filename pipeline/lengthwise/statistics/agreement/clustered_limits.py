"""Limits of agreement for canals in teeth in patients (A2)."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement.clustered_intervals import (
    IntervalOptions,
    bootstrap_bounds,
    jackknife_bounds,
    mover_bounds,
)
from lengthwise.statistics.agreement.nested import (
    NestedComponents,
    NestedRows,
    components_of,
    nested_rows,
    refused_components,
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
    label_array,
    robust_least_squares,
)
from lengthwise.statistics.patterns import intercept
from lengthwise.statistics.results import Estimate, refused

ESTIMATORS = ("closed_form", "reml")
INTERVALS = {
    "jackknife": (jackknife_bounds, "patient jackknife"),
    "mover": (mover_bounds, "MOVER"),
    "bootstrap": (bootstrap_bounds, "patient bootstrap BCa"),
}
# How often each interval held the truth, below so many patients: tests/coverage, whose table
# the handbook shows.
HELD = {
    "jackknife": (
        60,
        "with fewer than 60 patients this interval held the truth in 91 to 95 of 100 runs "
        "in simulation where errors were skewed",
    ),
    "mover": (
        math.inf,
        "in simulation this interval was too narrow where errors were skewed: of 100 runs it "
        "held the truth in 77 to 98",
    ),
    "bootstrap": (
        math.inf,
        "in simulation this interval was too narrow: of 100 runs with 15 to 150 patients it "
        "held the truth in 82 to 95",
    ),
}


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
    interval: str = "jackknife",
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
        "jackknife" (patients left out in turn; asks for no normal parts), "mover" (Zou GY.
        Stat Methods Med Res 2013;22:630-642, doi:10.1177/0962280211402548, carried on to
        more levels by means of means) or "bootstrap" (whole patients, BCa). In simulation
        the first held nearest to its level; MOVER is too narrow for skewed errors, the
        bootstrap with few patients.
    minimum_pairs : int
        Fewer pairs or patients than this: no limits. Fewer than 20: a warning.

    Notes
    -----
    Incomplete pairs are set aside and counted. Patients are taken as independent; only
    MOVER takes the parts as normal.
    """
    if estimator not in ESTIMATORS or interval not in INTERVALS:
        raise ValueError(f"estimator must be in {ESTIMATORS}, interval in {list(INTERVALS)}.")
    if interval == "bootstrap" and estimator != "closed_form":
        raise ValueError("the bootstrap is offered with the closed form only.")
    pairs = complete_pairs(method, reference)
    k = float(stats.norm.ppf((1 + coverage) / 2)) if multiplier is None else float(multiplier)
    levels = _levels(pairs, {"patient": patient, "tooth": tooth, "canal": canal})
    rows = nested_rows(pairs.difference, levels)
    patients = rows.n_patients
    reason = too_few(pairs.n_used, max(minimum_pairs, 2)) or too_few(
        patients, max(minimum_pairs, 2), what="patients"
    )
    if reason:
        return _refused(reason, pairs, k, coverage, level, patients)
    is_reml = estimator == "reml"
    components = (
        nested_components_reml(pairs.difference, levels) if is_reml else components_of(rows)
    )
    if not components.valid:
        return _refused(components.reason, pairs, k, coverage, level, patients)
    robust = robust_least_squares(intercept(pairs.n_used), pairs.difference, rows.patient)
    options = IntervalOptions(k, level, draws, seed)
    return _with_intervals(pairs, rows, components, robust, options, interval, coverage)


def _levels(pairs: Pairs, given: dict[str, ArrayLike | None]) -> dict[str, ArrayLike]:
    """Return the labels of the kept rows for the levels that were given."""
    return {
        name: label_array(one)[pairs.known] for name, one in given.items() if one is not None
    }


def _with_intervals(
    pairs: Pairs,
    rows: NestedRows,
    components: NestedComponents,
    robust: ClusterRobustFit,
    options: IntervalOptions,
    interval: str,
    coverage: float,
) -> ClusteredLimits:
    bias = robust.coefficient(0, level=options.level, name="bias over canals")
    total = components.total_variance
    sd = float(np.sqrt(total))
    reach, centre = options.multiplier * sd, bias.estimate
    compute, words = INTERVALS[interval]
    bounds = compute(rows, total, bias, options)
    own = (warning_for(robust.n_clusters, what="patients"), components.reason)
    below, held = HELD[interval]
    of_limits = (*own, held if robust.n_clusters < below else "")

    def given(
        value: float, pair: tuple[float, float], name: str, notes: tuple[str, ...] = of_limits
    ) -> Estimate:
        n, missing = pairs.n_used, pairs.n_missing
        note = "; ".join(one for one in notes if one)
        return Estimate(value, *pair, options.level, n, missing, name, True, note)

    name = f"{components.method}; {words}"
    return ClusteredLimits(
        given(centre, (bias.lower, bias.upper), bias.method, own),
        given(sd, bounds[0], f"total SD; {name}"),
        given(centre - reach, bounds[1], f"lower limit; {name}"),
        given(centre + reach, bounds[2], f"upper limit; {name}"),
        components,
        options.multiplier,
        coverage,
        robust.n_clusters,
    )


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
