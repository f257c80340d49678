"""Random-effects pooling of site estimates, for few sites of unequal size."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special, stats

from lengthwise.statistics.between_variance import (
    ESTIMATORS,
    between_variance,
    between_variance_interval,
    generalised_q,
    weighted_mean,
)
from lengthwise.statistics.results import NAN, Estimate, refused

FloatArray = NDArray[np.float64]

INTERVALS = ("hartung-knapp-modified", "hartung-knapp", "wald")
FEW_SITES = 5
WARNING = "fewer than 5 sites: the variation between sites is poorly known"


@dataclass(frozen=True, slots=True)
class RandomEffects:
    """Pooled estimate, variation between sites, and what a new site may show.

    Attributes
    ----------
    pooled : Estimate
        Mean over sites, on the scale of the estimates given.
    standard_error, wald_standard_error : float
        The one behind the interval, and 1 / sqrt(sum of weights).
    hartung_knapp_scale : float
        sum w (y - mean)^2 / (k - 1).
    p_value : float
        Two-sided, of a pooled value of zero, by the distribution of the interval.
    tau_squared : Estimate
        Variance between sites with its Q-profile interval.
    i_squared : float
        Share (0-1) of the spread that lies between sites, from tau squared.
    q, q_p : float
        Cochran's Q and its chi-square p.
    prediction : Estimate
        Where the true value of a new site is expected.
    """

    pooled: Estimate
    standard_error: float
    wald_standard_error: float
    hartung_knapp_scale: float
    p_value: float
    tau_squared: Estimate
    i_squared: float
    q: float
    q_p: float
    prediction: Estimate


def random_effects(
    estimates: ArrayLike,
    variances: ArrayLike,
    *,
    estimator: str = "REML",
    interval: str = "hartung-knapp-modified",
    higgins_prediction: bool = False,
    level: float = 0.95,
) -> RandomEffects:
    """Pool estimates of sites that may differ in truth.

    Parameters
    ----------
    estimates, variances : array_like of float, shape (n_sites,)
        Estimate of each site and its squared standard error. A site with a missing number
        or a variance not above zero is set aside and counted.
    estimator : {"REML", "DL", "ML", "PM"}
        Of tau squared: restricted likelihood, DerSimonian-Laird, likelihood, Paule-Mandel.
    interval : {"hartung-knapp-modified", "hartung-knapp", "wald"}
        Modified: the scale is not allowed below 1. Both Hartung-Knapp forms use t with
        sites - 1 degrees of freedom; Wald uses the normal distribution.
    higgins_prediction : bool
        Prediction interval with the Wald error and t with sites - 2 degrees of freedom
        (Higgins 2009). By default it uses the error and the quantile of `interval`.
    level : float
        Level of all intervals, 0-1.

    Returns
    -------
    RandomEffects
        Refused with fewer than 2 sites; no prediction interval with fewer than 3; a warning
        stands in `pooled.reason` below 5 sites.

    Raises
    ------
    ValueError
        When shapes differ or an option is unknown.

    Notes
    -----
    Assumes normal estimates with known variances and normal true values between sites.

    References
    ----------
    DerSimonian R, Laird N. Control Clin Trials 1986;7:177-188.
    doi:10.1016/0197-2456(86)90046-2
    Knapp G, Hartung J. Stat Med 2003;22:2693-2710. doi:10.1002/sim.1482
    Rover C, Knapp G, Friede T. BMC Med Res Methodol 2015;15:99.
    doi:10.1186/s12874-015-0091-1
    Higgins JPT, Thompson SG, Spiegelhalter DJ. J R Stat Soc A 2009;172:137-159.
    doi:10.1111/j.1467-985X.2008.00552.x
    """
    if interval not in INTERVALS or estimator not in ESTIMATORS:
        raise ValueError(f"unknown estimator {estimator!r} or interval {interval!r}")
    y, v, n_missing = _complete(estimates, variances)
    method = f"random effects, {estimator}, {interval} interval"
    if y.size < 2:
        reason = f"{y.size} site with an estimate, of at least 2"
        return _refused(reason, method, y.size, n_missing, level)
    law = stats.norm() if interval == "wald" else stats.t(y.size - 1)
    tau_squared = between_variance(y, v, estimator=estimator)
    centre, wald = weighted_mean(y, v, tau_squared)
    scale = generalised_q(y, v, tau_squared) / (y.size - 1)
    error = wald * _error_factor(scale, interval)
    warning = WARNING if y.size < FEW_SITES else ""
    half = float(law.ppf(0.5 + level / 2)) * error
    pooled = Estimate(
        centre, centre - half, centre + half, level, y.size, n_missing, method, True, warning
    )
    # Higgins 2009 pairs the Wald error with one degree of freedom less.
    new_law, new_error = (
        (stats.t(max(y.size - 2, 1)), wald) if higgins_prediction else (law, error)
    )
    reach = float(new_law.ppf(0.5 + level / 2)) * float(np.hypot(tau_squared**0.5, new_error))
    q = generalised_q(y, v, 0.0)
    return RandomEffects(
        pooled=pooled,
        standard_error=error,
        wald_standard_error=wald,
        hartung_knapp_scale=scale,
        p_value=float(2 * law.sf(abs(centre) / error)) if error > 0 else NAN,
        tau_squared=_tau_squared(y, v, tau_squared, estimator, pooled),
        i_squared=tau_squared / (tau_squared + _typical_variance(v)),
        q=q,
        q_p=float(stats.chi2.sf(q, y.size - 1)),
        prediction=_prediction(centre, reach, pooled, higgins_prediction),
    )


def pooled_proportion(
    events: ArrayLike,
    cases: ArrayLike,
    *,
    estimator: str = "REML",
    interval: str = "hartung-knapp-modified",
    level: float = 0.95,
) -> RandomEffects:
    """Pool shares of sites on the log-odds scale.

    Parameters
    ----------
    events, cases : array_like of int, shape (n_sites,)
        Counts by site; sites without cases are set aside. Where a site has no events or
        nothing but events, 0.5 is added to both of its cells.
    estimator, interval, level
        As in `random_effects`.

    Returns
    -------
    RandomEffects
        On the log-odds scale: see `as_share`.

    Raises
    ------
    ValueError
        When shapes differ or counts are impossible.

    Notes
    -----
    Assumes independent cases within a site; with clusters give a design effect by dividing
    both counts beforehand.
    """
    event, case = np.asarray(events, dtype=float), np.asarray(cases, dtype=float)
    if event.shape != case.shape or np.any(event < 0) or np.any(event > case):
        raise ValueError("events must lie between 0 and the number of cases")
    empty = np.where((event == 0) | (event == case), 0.5, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        yes, no = event + empty, case - event + empty
        variances = np.where(case > 0, 1 / yes + 1 / no, np.nan)
        logits = np.where(case > 0, np.log(yes / no), np.nan)
    return random_effects(
        logits, variances, estimator=estimator, interval=interval, level=level
    )


def as_share(estimate: Estimate) -> Estimate:
    """Return an estimate on the log-odds scale as a proportion 0-1."""
    share, low, high = special.expit([estimate.estimate, estimate.lower, estimate.upper])
    return Estimate(
        float(share), float(low), float(high), estimate.level, estimate.n_used,
        estimate.n_missing, f"{estimate.method}, log odds", estimate.valid, estimate.reason,
    )  # fmt: skip


def _complete(estimates: ArrayLike, variances: ArrayLike) -> tuple[FloatArray, FloatArray, int]:
    y, v = np.asarray(estimates, dtype=float), np.asarray(variances, dtype=float)
    if y.ndim != 1 or y.shape != v.shape:
        raise ValueError("estimates and variances must have one common length")
    kept = np.isfinite(y) & np.isfinite(v) & (v > 0)
    return y[kept], v[kept], int((~kept).sum())


def _error_factor(scale: float, interval: str) -> float:
    if interval == "wald":
        return 1.0
    floor = 1.0 if interval == "hartung-knapp-modified" else 0.0
    return float(max(scale, floor)) ** 0.5


def _typical_variance(v: FloatArray) -> float:
    weight = 1 / v
    return float((v.size - 1) / (weight.sum() - (weight**2).sum() / weight.sum()))


def _tau_squared(
    y: FloatArray, v: FloatArray, value: float, estimator: str, pooled: Estimate
) -> Estimate:
    low, high = between_variance_interval(y, v, level=pooled.level)
    method = f"variance between sites, {estimator}, Q-profile interval"
    return replace(pooled, estimate=value, lower=low, upper=high, method=method)


def _prediction(centre: float, reach: float, pooled: Estimate, higgins: bool) -> Estimate:
    method = f"prediction interval, {'Higgins 2009' if higgins else 'as the pooled interval'}"
    if pooled.n_used < 3:
        return refused(
            "a prediction interval needs at least 3 sites", method=method,
            n_used=pooled.n_used, n_missing=pooled.n_missing, level=pooled.level,
        )  # fmt: skip
    return Estimate(
        centre, centre - reach, centre + reach, pooled.level, pooled.n_used,
        pooled.n_missing, method, True, pooled.reason,
    )  # fmt: skip


def _refused(
    reason: str, method: str, n_used: int, n_missing: int, level: float
) -> RandomEffects:
    none = refused(reason, method=method, n_used=n_used, n_missing=n_missing, level=level)
    return RandomEffects(none, NAN, NAN, NAN, NAN, none, NAN, NAN, NAN, none)
