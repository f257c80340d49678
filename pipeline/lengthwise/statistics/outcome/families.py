"""Means, derivatives and variances of the models for an outcome."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import expit, xlogy

from lengthwise.statistics.outcome.arrays import Array

# A linear predictor beyond this size means a fitted probability of 0 or 1 in double
# precision; clipping keeps the arithmetic finite until the fit is refused.
LARGEST_PREDICTOR = 30.0


@dataclass(frozen=True, slots=True)
class Family:
    """One outcome family with its link.

    Attributes
    ----------
    name, link : str
        As printed in a report.
    working : callable
        Linear predictor -> (mean, root, slope): sqrt of the variance and d mean / d predictor.
    start : callable
        Outcome -> first linear predictor.
    log_likelihood : callable
        (outcome, mean, weight) -> sum over rows.
    fixed_scale : bool
        True where the dispersion is 1 by definition.
    """

    name: str
    link: str
    working: Callable[[Array], tuple[Array, Array, Array]]
    start: Callable[[Array], Array]
    log_likelihood: Callable[[Array, Array, Array | float], float]
    fixed_scale: bool

    @property
    def is_binary(self) -> bool:
        """True where the outcome must be 0 or 1."""
        return self.name == "binomial"


def _logit_working(predictor: Array) -> tuple[Array, Array, Array]:
    mean = expit(np.clip(predictor, -LARGEST_PREDICTOR, LARGEST_PREDICTOR))
    variance = mean * (1.0 - mean)
    return mean, np.sqrt(variance), variance


def _cloglog_working(predictor: Array) -> tuple[Array, Array, Array]:
    hazard = np.exp(np.clip(predictor, -LARGEST_PREDICTOR, 3.4))
    mean = -np.expm1(-hazard)
    survivor = np.exp(-hazard)
    return mean, np.sqrt(mean * survivor), hazard * survivor


def _log_working(predictor: Array) -> tuple[Array, Array, Array]:
    mean = np.exp(np.clip(predictor, -LARGEST_PREDICTOR, LARGEST_PREDICTOR))
    return mean, np.sqrt(mean), mean


def _identity_working(predictor: Array) -> tuple[Array, Array, Array]:
    ones = np.ones_like(predictor)
    return predictor, ones, ones


def _bernoulli_log_likelihood(y: Array, mean: Array, weight: Array | float) -> float:
    return float(np.sum(weight * (xlogy(y, mean) + xlogy(1.0 - y, 1.0 - mean))))


def _poisson_log_likelihood(y: Array, mean: Array, weight: Array | float) -> float:
    from scipy.special import gammaln

    return float(np.sum(weight * (xlogy(y, mean) - mean - gammaln(y + 1.0))))


def _gaussian_log_likelihood(y: Array, mean: Array, weight: Array | float) -> float:
    squares = float(np.sum(weight * (y - mean) ** 2))
    n = y.size
    return float(-0.5 * n * (np.log(2 * np.pi * squares / n) + 1.0)) if squares > 0 else np.inf


def _logit_start(y: Array) -> Array:
    middle = (y + 0.5) / 2
    return np.log(middle / (1.0 - middle))


def _cloglog_start(y: Array) -> Array:
    return np.log(-np.log1p(-(y + 0.5) / 2))


def _log_start(y: Array) -> Array:
    return np.log((y + y.mean()) / 2 + 1e-10)


def _identity_start(y: Array) -> Array:
    return y


LOGIT = Family("binomial", "logit", _logit_working, _logit_start,
               _bernoulli_log_likelihood, True)  # fmt: skip
CLOGLOG = Family("binomial", "cloglog", _cloglog_working, _cloglog_start,
                 _bernoulli_log_likelihood, True)  # fmt: skip
POISSON = Family("poisson", "log", _log_working, _log_start,
                 _poisson_log_likelihood, True)  # fmt: skip
GAUSSIAN = Family("gaussian", "identity", _identity_working, _identity_start,
                  _gaussian_log_likelihood, False)  # fmt: skip

FAMILIES = {
    "binomial": LOGIT,
    "logit": LOGIT,
    "cloglog": CLOGLOG,
    "poisson": POISSON,
    "gaussian": GAUSSIAN,
}


def find_family(name: str) -> Family:
    """Return a family by name; an unknown name is misuse."""
    if name not in FAMILIES:
        raise ValueError(f"unknown family {name!r}; expected one of {', '.join(FAMILIES)}")
    return FAMILIES[name]
