"""Brant's test of the proportional-odds assumption."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats
from scipy.special import expit

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.outcome.regression import fit_logistic
from lengthwise.statistics.results import NAN

METHOD = "Brant test"


@dataclass(frozen=True, slots=True)
class BrantRow:
    """Wald test that one term (or all) has the same slope at each cut."""

    term: str
    statistic: float
    degrees_of_freedom: int
    p_value: float


@dataclass(frozen=True, slots=True)
class BrantTest:
    """The omnibus test and one row a term; empty rows where `valid` is False."""

    omnibus: BrantRow
    rows: tuple[BrantRow, ...]
    n_used: int
    n_missing: int
    method: str
    valid: bool
    reason: str


def brant_test(category: ArrayLike, design: ArrayLike, *, terms: Sequence[str]) -> BrantTest:
    """Compare the binary logits of Y > j across cuts.

    Parameters
    ----------
    category : array of shape (n,)
        Ordered numbers.
    design : array of shape (n, p)
        Without an intercept.
    terms : sequence of str
        Names of the p columns.

    Returns
    -------
    BrantTest
        Not valid where a binary fit does not exist, as with a category that occurs at one
        level of a covariate only.

    Notes
    -----
    Source: Brant 1990, 10.2307/2532457.
    """
    y, x = np.asarray(category, dtype=float), np.asarray(design, dtype=float)
    if x.ndim != 2 or x.shape != (y.size, len(terms)):
        raise ValueError("the design must be (n, p) with one term a column")
    kept = np.isfinite(y) & np.isfinite(x).all(axis=1)
    missing = int(np.count_nonzero(~kept))
    y, x = y[kept], np.column_stack([np.ones(int(kept.sum())), x[kept]])
    cuts = np.unique(y)[:-1]
    if cuts.size < 2:
        return _refusal("fewer than three categories occur", y.size, missing)
    slopes, risks = [], []
    for cut in cuts:
        fit = fit_logistic(y > cut, x, terms=("intercept", *terms))
        if not fit.valid:
            return _refusal(f"one of the cuts cannot be fitted: {fit.reason}", y.size, missing)
        slopes.append(fit.vector())
        risks.append(expit(x @ fit.vector()))
    spread = _joint_covariance(x, risks)
    beta = np.concatenate([slope[1:] for slope in slopes])
    width = len(terms)
    rows = tuple(
        _wald(term, beta, spread, cuts.size, width, (i,)) for i, term in enumerate(terms)
    )
    omnibus = _wald("all", beta, spread, cuts.size, width, tuple(range(width)))
    return BrantTest(omnibus, rows, y.size, missing, METHOD, True, "")


def _joint_covariance(x: Array, risks: list[Array]) -> Array:
    """Return the covariance of the slopes of all cuts, shape (cuts * p, cuts * p)."""
    inverses = [np.linalg.inv((x * (risk * (1 - risk))[:, None]).T @ x) for risk in risks]
    blocks = [
        [_block(x, risks, inverses, a, b) for b in range(len(risks))] for a in range(len(risks))
    ]
    return np.block(blocks)


def _block(x: Array, risks: list[Array], inverses: list[Array], a: int, b: int) -> Array:
    # Y > b implies Y > a for a <= b, so the joint probability is that of the higher cut.
    low, high = min(a, b), max(a, b)
    shared = risks[high] - risks[low] * risks[high]
    return (inverses[a] @ ((x * shared[:, None]).T @ x) @ inverses[b])[1:, 1:]


def _wald(
    term: str, beta: Array, spread: Array, cuts: int, width: int, chosen: tuple[int, ...]
) -> BrantRow:
    contrast = np.zeros(((cuts - 1) * len(chosen), cuts * width))
    for row in range(cuts - 1):
        for place, column in enumerate(chosen):
            at = row * len(chosen) + place
            contrast[at, column] = 1.0
            contrast[at, (row + 1) * width + column] = -1.0
    gap = contrast @ beta
    statistic = float(gap @ np.linalg.solve(contrast @ spread @ contrast.T, gap))
    freedom = contrast.shape[0]
    return BrantRow(term, statistic, freedom, float(stats.chi2.sf(statistic, freedom)))


def _refusal(reason: str, n_used: int, n_missing: int) -> BrantTest:
    return BrantTest(BrantRow("all", NAN, 0, NAN), (), n_used, n_missing, METHOD, False, reason)
