"""Empirical-Bayes shrinkage of unit shares by the beta-binomial model."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special, stats

from lengthwise.statistics.process.control_chart import FloatArray
from lengthwise.statistics.process.funnel import IntArray, checked_units
from lengthwise.statistics.results import NAN, Estimate

METHOD = "empirical Bayes, beta-binomial by maximum likelihood"
NO_VARIATION = "no variation between units beyond chance was found: all shrink to the mean"
# Above this sum of alpha and beta the fit cannot be told from a plain binomial.
LARGEST_SUM = 1e6
# Below this every unit is all or nothing and the likelihood has no finite maximum.
SMALLEST_SUM = 1e-4
ALL_OR_NOTHING = (
    "every unit shows all or nothing: the variation between units has no finite fit"
)


@dataclass(frozen=True, slots=True)
class BetaBinomialFit:
    """Between-unit distribution and the shrunken share of each unit.

    Attributes
    ----------
    alpha, beta : float
        Parameters of the beta distribution between units; infinite without variation.
    mean : float
        alpha / (alpha + beta).
    intraclass_correlation : float
        1 / (alpha + beta + 1).
    log_likelihood : float
        With binomial constants.
    shares : tuple of Estimate
        Shrunken share (alpha + y) / (alpha + beta + n) with its posterior interval, one for
        each unit given.
    reliability : tuple of float
        n / (n + alpha + beta): the part of a unit's spread that is signal.
    """

    alpha: float
    beta: float
    mean: float
    intraclass_correlation: float
    log_likelihood: float
    shares: tuple[Estimate, ...]
    reliability: tuple[float, ...]
    n_used: int
    n_missing: int
    method: str = METHOD
    valid: bool = True
    reason: str = ""


def beta_binomial_shrinkage(
    events: ArrayLike, cases: ArrayLike, *, level: float = 0.95, minimum_units: int = 5
) -> BetaBinomialFit:
    """Fit the beta-binomial model and shrink each unit's share towards the mean.

    Parameters
    ----------
    events, cases : array_like of int, shape (n_units,)
        Counts by unit. A unit without cases does not enter the fit and gets the mean.
    level : float
        Level of the posterior intervals, 0-1; they take alpha and beta as known and are
        therefore somewhat too narrow.
    minimum_units : int
        Fewer units with cases: refused.

    Returns
    -------
    BetaBinomialFit

    Raises
    ------
    ValueError
        When shapes differ or counts are impossible.

    Notes
    -----
    Assumes exchangeable units and independent cases within a unit. No ranks are made.

    References
    ----------
    Gelman A and others. Bayesian Data Analysis, 3rd ed. 2013, section 5.1.
    Adams JL. The reliability of provider profiling. RAND TR-653, 2009.
    """
    event, case = checked_units(events, cases)
    kept = case > 0
    reason = _refusal(event[kept], case[kept], minimum_units)
    n_used, n_missing = int(kept.sum()), int((~kept).sum())
    if reason:
        return BetaBinomialFit(
            NAN, NAN, NAN, NAN, NAN, (), (), n_used, n_missing, METHOD, False, reason
        )
    mean, total, value, reason = _maximum(event[kept], case[kept])
    if not np.isfinite(value):
        return BetaBinomialFit(
            NAN, NAN, NAN, NAN, NAN, (), (), n_used, n_missing, METHOD, False, reason
        )
    return BetaBinomialFit(
        alpha=mean * total,
        beta=(1 - mean) * total,
        mean=mean,
        intraclass_correlation=1.0 / (total + 1.0),
        log_likelihood=value,
        shares=posterior_shares(event, case, mean, total, level=level),
        reliability=tuple((case / (case + total)).tolist()),
        n_used=n_used,
        n_missing=n_missing,
        reason=reason,
    )


def beta_from_moments(shares: ArrayLike) -> tuple[float, float]:
    """Return alpha and beta matching the plain mean and SD (divisor n - 1) of shares.

    Raises
    ------
    ValueError
        When fewer than two shares are given, or their spread is zero or too wide for a beta
        distribution.

    References
    ----------
    Gelman A and others. Bayesian Data Analysis, 3rd ed. 2013, section 5.1.
    """
    values = np.asarray(shares, dtype=float)
    if values.size < 2:
        raise ValueError("at least two shares are needed")
    mean, variance = float(values.mean()), float(values.var(ddof=1))
    if not 0 < variance < mean * (1 - mean):
        raise ValueError("the spread of the shares does not fit a beta distribution")
    total = mean * (1 - mean) / variance - 1
    return mean * total, (1 - mean) * total


def posterior_shares(
    event: IntArray, case: IntArray, mean: float, total: float, *, level: float = 0.95
) -> tuple[Estimate, ...]:
    """Return the posterior mean and interval of each unit for a known beta distribution."""
    if not np.isfinite(total):
        return tuple(
            Estimate(mean, mean, mean, level, int(n), 0, METHOD, True, NO_VARIATION)
            for n in case
        )
    alpha, beta = mean * total + event, (1 - mean) * total + case - event
    tail = (1 - level) / 2
    lower, upper = stats.beta.ppf(tail, alpha, beta), stats.beta.ppf(1 - tail, alpha, beta)
    return tuple(
        Estimate(float(a / (a + b)), float(low), float(high), level, int(n), 0, METHOD)
        for a, b, low, high, n in zip(alpha, beta, lower, upper, case, strict=True)
    )


def _refusal(event: IntArray, case: IntArray, minimum: int) -> str:
    if case.size < minimum:
        return f"{case.size} units with cases, fewer than {minimum}: no shrinkage"
    if event.sum() in (0, case.sum()):
        found = "no event" if event.sum() == 0 else "nothing but events"
        return f"{found} in {int(case.sum())} cases: variation between units is unknown"
    if case.max() < 2:
        return "every unit has one case: variation between units cannot be told from chance"
    return ""


def _maximum(event: IntArray, case: IntArray) -> tuple[float, float, float, str]:
    pooled = float(event.sum() / case.sum())
    plain = float(stats.binom.logpmf(event, case, pooled).sum())
    start = np.array([special.logit(pooled), np.log(10.0)])
    found = optimize.minimize(
        _negative, start, args=(event, case), jac=True, method="L-BFGS-B",
        bounds=[(-30, 30), (-12, np.log(LARGEST_SUM))],
        options={"ftol": 1e-15, "gtol": 1e-10, "maxiter": 500},
    )  # fmt: skip
    # The optimiser stops on rounding noise; the score equations settle the last digits.
    sharp = optimize.root(lambda point: _negative(point, event, case)[1], found.x, tol=1e-12)
    near = np.abs(sharp.x - found.x).max() < 1e-2
    point = sharp.x if sharp.success and near else found.x
    value = -_negative(point, event, case)[0]
    total = float(np.exp(point[1]))
    if total > 0.99 * LARGEST_SUM or value <= plain + 1e-9:
        return pooled, np.inf, plain, NO_VARIATION
    if total < SMALLEST_SUM:
        return NAN, NAN, NAN, ALL_OR_NOTHING
    if np.abs(_negative(point, event, case)[1]).max() > 1e-3:
        return NAN, NAN, NAN, "the fit of the variation between units did not converge"
    return float(special.expit(point[0])), total, float(value), ""


def _negative(point: FloatArray, event: IntArray, case: IntArray) -> tuple[float, FloatArray]:
    mean, total = special.expit(point[0]), np.exp(point[1])
    alpha, beta = mean * total, (1 - mean) * total
    constant = special.gammaln(case + 1) - special.gammaln(event + 1)
    constant -= special.gammaln(case - event + 1)
    value = constant + special.betaln(alpha + event, beta + case - event)
    value -= special.betaln(alpha, beta)
    shared = special.digamma(alpha + beta) - special.digamma(alpha + beta + case)
    by_alpha = special.digamma(alpha + event) - special.digamma(alpha) + shared
    by_beta = special.digamma(beta + case - event) - special.digamma(beta) + shared
    slope = np.array(
        [
            (total * mean * (1 - mean) * (by_alpha - by_beta)).sum(),
            (alpha * by_alpha + beta * by_beta).sum(),
        ]
    )
    return -float(value.sum()), -slope
