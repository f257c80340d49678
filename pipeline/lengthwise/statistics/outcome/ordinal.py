"""Proportional-odds model of an ordered outcome, such as the periapical index."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.outcome.cumulative_logit import CumulativeFit, fit_cumulative_logit
from lengthwise.statistics.outcome.model_fit import ModelFit, build_fit, refused_fit
from lengthwise.statistics.patterns import row_patterns
from lengthwise.statistics.results import NAN

METHOD = "proportional-odds model"


@dataclass(frozen=True, slots=True)
class ParallelTest:
    """Likelihood-ratio test that one slope serves all cuts."""

    statistic: float
    degrees_of_freedom: int
    p_value: float
    log_likelihood_parallel: float
    log_likelihood_separate: float
    method: str
    valid: bool
    reason: str


def fit_proportional_odds(
    category: ArrayLike,
    design: ArrayLike,
    *,
    terms: Sequence[str],
    weights: ArrayLike | None = None,
    level: float = 0.95,
) -> ModelFit:
    """Fit logit P(Y <= j) = threshold_j - x'b: a slope above 0 goes with higher categories.

    Parameters
    ----------
    category : array of shape (n,)
        Ordered whole numbers; those that do not occur are passed over.
    design : array of shape (n, p)
        Without an intercept.
    terms : sequence of str
        Names of the p columns.
    weights : array of shape (n,), optional
        Frequencies.
    level : float
        Confidence level, 0-1.

    Returns
    -------
    ModelFit
        Terms: slopes, then "threshold 1", ... Not valid where fewer than two categories
        occur, a column does not vary, or the maximum does not exist.

    Notes
    -----
    Rows are taken as independent. Source: McCullagh 1980,
    10.1111/j.2517-6161.1980.tb01109.x.
    """
    rows = _prepare(category, design, weights, tuple(terms))
    names = (*terms, *(f"threshold {j + 1}" for j in range(max(rows.cuts, 0))))
    counts = {"n_used": rows.x.shape[0], "n_missing": rows.n_missing}
    problem = _problem(rows)
    fitted = None if problem else _maximum(rows, parallel=True)
    if fitted is not None and fitted.failure:
        problem = fitted.failure
    if problem or fitted is None:
        return refused_fit(
            problem, terms=tuple(terms), method=METHOD, link="logit", level=level, **counts
        )
    return build_fit(
        terms=names,
        beta=fitted.parameters,
        covariance=fitted.covariance,
        model_covariance=fitted.covariance,
        level=level,
        log_likelihood=fitted.log_likelihood,
        working_correlation=0.0,
        scale=1.0,
        n_events=0,
        n_clusters=rows.x.shape[0],
        method=METHOD,
        link="logit",
        **counts,
    )


def parallel_test(
    category: ArrayLike, design: ArrayLike, *, weights: ArrayLike | None = None
) -> ParallelTest:
    """Test the proportional-odds assumption by a model with a slope for each cut.

    Not valid where that model has no maximum, as with a category seen at one level of a
    covariate only.
    """
    width = np.asarray(design).shape[1]
    rows = _prepare(category, design, weights, ("x",) * width)
    problem = _problem(rows)
    if not problem and rows.cuts < 2:
        problem = "two categories have a single cut, so there is nothing to test"
    if problem:
        return _no_test(problem)
    one, separate = _maximum(rows, parallel=True), _maximum(rows, parallel=False)
    if one.failure or separate.failure:
        return _no_test(one.failure or f"slopes by cut: {separate.failure}")
    statistic = max(2 * (separate.log_likelihood - one.log_likelihood), 0.0)
    freedom = width * (rows.cuts - 1)
    return ParallelTest(
        statistic,
        freedom,
        float(stats.chi2.sf(statistic, freedom)),
        one.log_likelihood,
        separate.log_likelihood,
        "likelihood-ratio test of parallel slopes",
        True,
        "",
    )


@dataclass(frozen=True, slots=True)
class _OrdinalRows:
    category: NDArray[np.int64]
    x: Array
    weights: Array
    cuts: int
    n_missing: int


def _prepare(
    category: ArrayLike, design: ArrayLike, weights: ArrayLike | None, terms: tuple[str, ...]
) -> _OrdinalRows:
    y, x = np.asarray(category, dtype=float), np.asarray(design, dtype=float)
    if x.ndim != 2 or x.shape != (y.size, len(terms)):
        raise ValueError("the design must be (n, p) with one term a column")
    weight = np.ones(y.size) if weights is None else np.asarray(weights, dtype=float)
    kept = np.isfinite(y) & np.isfinite(x).all(axis=1) & (weight > 0)
    values, codes = np.unique(y[kept], return_inverse=True)
    missing = int(np.count_nonzero(~kept))
    return _OrdinalRows(codes.astype(np.int64), x[kept], weight[kept], values.size - 1, missing)


def _problem(rows: _OrdinalRows) -> str:
    if rows.cuts < 1:
        return "fewer than two categories occur"
    n, width = rows.x.shape
    if n <= width + rows.cuts:
        return f"{n} rows are too few for {width + rows.cuts} coefficients"
    with_intercept = np.column_stack([np.ones(n), _unit_scale(rows.x)])
    if int(np.linalg.matrix_rank(with_intercept)) <= width:
        return "a covariate does not vary, or repeats others, in the complete rows"
    return ""


def _unit_scale(x: Array) -> Array:
    spread = np.abs(x - x.mean(axis=0)).max(axis=0)
    return (x - x.mean(axis=0)) / np.where(spread > 0, spread, 1.0)


def _maximum(rows: _OrdinalRows, *, parallel: bool) -> CumulativeFit:
    # Rows alike in category and covariates count once, with their number as weight.
    codes, first = row_patterns(np.column_stack([rows.category, rows.x]))
    weights = np.bincount(codes, weights=rows.weights).astype(float)
    return fit_cumulative_logit(rows.category[first], rows.x[first], weights, parallel=parallel)


def _no_test(reason: str) -> ParallelTest:
    return ParallelTest(
        NAN, 0, NAN, math.nan, math.nan, "likelihood-ratio test of parallel slopes",
        False, reason,
    )  # fmt: skip
