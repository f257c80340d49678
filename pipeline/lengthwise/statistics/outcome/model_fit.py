"""The frozen result of every regression in the outcome family."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import stats

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.results import NAN, Estimate, refused

Matrix = tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class ModelFit:
    """Coefficients of one model with their covariance.

    Attributes
    ----------
    terms : tuple of str
        Names of the coefficients, in the order of the design's columns.
    coefficients : tuple of Estimate
        On the scale of the link (log odds for a logit); empty where `valid` is False.
    standard_errors, p_values : tuple of float
        The p values are two-sided.
    covariance, model_covariance : tuple of tuple of float
        The covariance the intervals rest on, and the one that trusts the working model.
    log_likelihood : float
        NaN for estimating equations with correlated rows.
    working_correlation, scale : float
        Exchangeable correlation (0 for independence) and dispersion.
    n_used, n_missing, n_events, n_clusters : int
        Rows, rows set aside for a missing value, rows with the event, clusters.
    degrees_of_freedom : float
        Of the t reference; infinite where the normal is used.
    level : float
        Confidence level, 0-1.
    method, reason : str
        Name of model and covariance; warning or cause of refusal.
    link : str
        "logit", "cloglog", "log" or "identity".
    n_steps : int
        Steps until the coefficients stood still; 0 where the solver does not say.
    """

    terms: tuple[str, ...]
    coefficients: tuple[Estimate, ...]
    standard_errors: tuple[float, ...]
    p_values: tuple[float, ...]
    covariance: Matrix
    model_covariance: Matrix
    log_likelihood: float
    working_correlation: float
    scale: float
    n_used: int
    n_missing: int
    n_events: int
    n_clusters: int
    degrees_of_freedom: float
    level: float
    method: str
    link: str
    valid: bool = True
    reason: str = ""
    n_steps: int = 0

    def vector(self) -> Array:
        """Return the coefficients as an array of shape (p,)."""
        return np.array([item.estimate for item in self.coefficients])

    def covariance_array(self) -> Array:
        """Return the covariance as an array of shape (p, p)."""
        return np.array(self.covariance)

    def critical_value(self) -> float:
        """Return the two-sided multiplier of a standard error."""
        return critical_value(self.level, self.degrees_of_freedom)

    def coefficient(self, term: str) -> Estimate:
        """Return one coefficient by name, or the refusal of the whole fit."""
        if term not in self.terms:
            raise ValueError(f"unknown term: {term}")
        if not self.valid:
            return self._refused()
        return self.coefficients[self.terms.index(term)]

    def ratio(self, term: str) -> Estimate:
        """Return exp(coefficient): odds, hazard or risk ratio, as the link says."""
        item = self.coefficient(term)
        if not item.valid:
            return item
        return exponentiated(item)

    def _refused(self) -> Estimate:
        return refused(
            self.reason,
            method=self.method,
            n_used=self.n_used,
            n_missing=self.n_missing,
            level=self.level,
        )


def critical_value(level: float, degrees_of_freedom: float) -> float:
    """Return the two-sided t (or normal, for infinite degrees) multiplier."""
    tail = 0.5 + level / 2
    if math.isinf(degrees_of_freedom):
        return float(stats.norm.ppf(tail))
    return float(stats.t.ppf(tail, degrees_of_freedom))


def exponentiated(item: Estimate) -> Estimate:
    """Return the estimate and its limits on the ratio scale."""
    with np.errstate(over="ignore"):
        values = np.exp([item.estimate, item.lower, item.upper])
    return Estimate(
        float(values[0]),
        float(values[1]),
        float(values[2]),
        item.level,
        item.n_used,
        item.n_missing,
        item.method,
        item.valid,
        item.reason,
    )


def as_matrix(values: Array) -> Matrix:
    """Return an array as nested tuples, so that a result stays immutable."""
    return tuple(tuple(float(value) for value in row) for row in values)


def linear_combination(fit: ModelFit, weights: Array, *, method: str = "") -> Estimate:
    """Return weights'b of a valid fit with its Wald interval.

    Parameters
    ----------
    fit : ModelFit
        A valid fit with p coefficients.
    weights : array of shape (p,)
        One weight a coefficient.
    """
    value = float(weights @ fit.vector())
    error = math.sqrt(max(float(weights @ fit.covariance_array() @ weights), 0.0))
    half = fit.critical_value() * error
    name = method or fit.method
    return Estimate(
        value, value - half, value + half, fit.level, fit.n_used, fit.n_missing, name
    )


def two_sided_p(statistic: Array, degrees_of_freedom: float) -> Array:
    """Return two-sided p values of z or t statistics."""
    size = np.abs(statistic)
    if math.isinf(degrees_of_freedom):
        return np.asarray(2 * stats.norm.sf(size))
    return np.asarray(2 * stats.t.sf(size, degrees_of_freedom))


def build_fit(
    *,
    terms: tuple[str, ...],
    beta: Array,
    covariance: Array,
    model_covariance: Array,
    degrees_of_freedom: float = math.inf,
    level: float = 0.95,
    **counts: Any,
) -> ModelFit:
    """Assemble a valid fit: Wald intervals and p values from a covariance."""
    errors = np.sqrt(np.clip(np.diag(covariance), 0.0, None))
    half = critical_value(level, degrees_of_freedom) * errors
    with np.errstate(divide="ignore", invalid="ignore"):
        p_values = two_sided_p(beta / errors, degrees_of_freedom)
    items = tuple(
        Estimate(
            float(b), float(b - h), float(b + h), level,
            counts["n_used"], counts["n_missing"], counts["method"],
        )
        for b, h in zip(beta, half, strict=True)
    )  # fmt: skip
    return ModelFit(
        terms=terms,
        coefficients=items,
        standard_errors=tuple(float(value) for value in errors),
        p_values=tuple(float(value) for value in p_values),
        covariance=as_matrix(covariance),
        model_covariance=as_matrix(model_covariance),
        degrees_of_freedom=degrees_of_freedom,
        level=level,
        **counts,
    )


def refused_fit(
    reason: str,
    *,
    terms: tuple[str, ...],
    method: str,
    link: str,
    level: float = 0.95,
    n_used: int = 0,
    n_missing: int = 0,
    n_events: int = 0,
    n_clusters: int = 0,
) -> ModelFit:
    """Return the fit that stands in the place of one that cannot be given."""
    return ModelFit(
        terms, (), (), (), (), (), NAN, NAN, NAN, n_used, n_missing, n_events, n_clusters,
        NAN, level, method, link, False, reason,
    )  # fmt: skip
