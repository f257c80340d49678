"""Variance between sites: four estimators and the Q-profile interval."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, stats

FloatArray = NDArray[np.float64]

ESTIMATORS = ("REML", "DL", "ML", "PM")
# Grid of starting points for the likelihood, relative to the spread of the estimates.
GRID = np.concatenate([[0.0], np.geomspace(1e-6, 1e3, 181)])


def weighted_mean(y: FloatArray, v: FloatArray, tau_squared: float) -> tuple[float, float]:
    """Return the inverse-variance mean and its Wald standard error."""
    weight = 1 / (v + tau_squared)
    return float(weight @ y / weight.sum()), float(weight.sum() ** -0.5)


def generalised_q(y: FloatArray, v: FloatArray, tau_squared: float) -> float:
    """Return sum w (y - mean)^2 with w = 1 / (v + tau squared)."""
    centre, _ = weighted_mean(y, v, tau_squared)
    return float(((y - centre) ** 2 / (v + tau_squared)).sum())


def between_variance(y: FloatArray, v: FloatArray, *, estimator: str) -> float:
    """Return tau squared, never below 0.

    Parameters
    ----------
    y, v : ndarray of shape (n_sites,)
        Estimates and known variances, at least two sites.
    estimator : {"REML", "DL", "ML", "PM"}

    Raises
    ------
    ValueError
        When the estimator is unknown.

    References
    ----------
    Viechtbauer W. J Educ Behav Stat 2005;30:261-293. doi:10.3102/10769986030003261
    """
    if estimator == "DL":
        weight = 1 / v
        room = weight.sum() - (weight**2).sum() / weight.sum()
        return max(0.0, float((generalised_q(y, v, 0.0) - (y.size - 1)) / room))
    if estimator == "PM":
        return _q_equals(y, v, float(y.size - 1))
    if estimator in ("REML", "ML"):
        return _most_likely(y, v, restricted=estimator == "REML")
    raise ValueError(f"estimator must be one of {ESTIMATORS}, got {estimator!r}")


def between_variance_interval(
    y: FloatArray, v: FloatArray, *, level: float = 0.95
) -> tuple[float, float]:
    """Return the Q-profile interval of tau squared.

    References
    ----------
    Viechtbauer W. Stat Med 2007;26:37-52. doi:10.1002/sim.2514
    """
    tail = (1 - level) / 2
    cuts = stats.chi2.ppf([1 - tail, tail], y.size - 1)
    return _q_equals(y, v, float(cuts[0])), _q_equals(y, v, float(cuts[1]))


def _q_equals(y: FloatArray, v: FloatArray, wanted: float) -> float:
    """Return the tau squared at which Q falls to a value, 0 where it starts below."""
    if generalised_q(y, v, 0.0) <= wanted:
        return 0.0
    top = _scale(y, v)
    while generalised_q(y, v, top) > wanted:
        top *= 4
    return _root(lambda t: generalised_q(y, v, t) - wanted, 0.0, top)


def _most_likely(y: FloatArray, v: FloatArray, *, restricted: bool) -> float:
    # The likelihood may have two peaks with few unequal sites: the grid finds the highest,
    # the score equation between its neighbours settles the digits.
    grid = GRID * _scale(y, v)
    values = [_log_likelihood(y, v, float(t), restricted) for t in grid]
    best = int(np.argmax(values))
    low, high = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, grid.size - 1)])

    def score(tau_squared: float) -> float:
        return _score(y, v, tau_squared, restricted)

    if score(low) <= 0:
        return 0.0
    if score(high) >= 0:
        return high
    return _root(score, low, high)


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    return float(
        optimize.brentq(function, low, high, xtol=1e-15 * max(high, 1e-300), rtol=1e-14)
    )


def _scale(y: FloatArray, v: FloatArray) -> float:
    return float(np.var(y) + v.mean())


def _log_likelihood(y: FloatArray, v: FloatArray, t: float, restricted: bool) -> float:
    total = v + t
    value = -0.5 * (np.log(total).sum() + generalised_q(y, v, t))
    return float(value - 0.5 * np.log((1 / total).sum()) if restricted else value)


def _score(y: FloatArray, v: FloatArray, t: float, restricted: bool) -> float:
    weight = 1 / (v + t)
    centre, _ = weighted_mean(y, v, t)
    value = (weight**2 * (y - centre) ** 2).sum() - weight.sum()
    return float(value + (weight**2).sum() / weight.sum() if restricted else value)
