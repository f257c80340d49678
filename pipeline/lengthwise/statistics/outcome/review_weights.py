"""Weights that let the reviewed teeth stand for all teeth treated."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit

from lengthwise.statistics.outcome.arrays import Array, Flags
from lengthwise.statistics.outcome.model_fit import ModelFit
from lengthwise.statistics.outcome.regression import fit_logistic
from lengthwise.statistics.results import NAN


@dataclass(frozen=True, slots=True)
class Balance:
    """Standardised mean difference of one covariate: reviewed against all treated.

    Attributes
    ----------
    before, after : float
        Mean of (reviewed - mean of all treated with the same exposure) / SD of all, without
        and with weights: stabilised weights balance within exposure, not across it. A size
        above 0.1 is commonly read as imbalance (common practice, no source).
    """

    term: str
    before: float
    after: float


@dataclass(frozen=True, slots=True, eq=False)
class ReviewWeights:
    """Stabilised inverse-probability-of-review weights.

    Attributes
    ----------
    weights : array of shape (n,)
        NaN for rows that were not reviewed or had a missing covariate.
    model : ModelFit
        Logistic model of being reviewed.
    limits : tuple of float or None
        Weights were cut to these; None without truncation.
    n_truncated : int
    smallest, mean, largest : float
        Of the weights as used. A mean far from 1 speaks against the model.
    effective_n : float
        (sum w)^2 / sum w^2.
    n_reviewed, n_used, n_missing : int
    balance : tuple of Balance
    """

    weights: Array
    model: ModelFit
    limits: tuple[float, float] | None
    n_truncated: int
    smallest: float
    mean: float
    largest: float
    effective_n: float
    n_reviewed: int
    n_used: int
    n_missing: int
    balance: tuple[Balance, ...]
    method: str
    valid: bool
    reason: str


def review_weights(
    reviewed: ArrayLike,
    exposure: ArrayLike,
    covariates: ArrayLike,
    *,
    exposure_terms: Sequence[str],
    covariate_terms: Sequence[str],
    truncation: tuple[float, float] | None = (0.01, 0.99),
) -> ReviewWeights:
    """Weight each reviewed row by P(reviewed | exposure) / P(reviewed | all).

    Parameters
    ----------
    reviewed : array of shape (n,)
        1 reviewed, 0 not.
    exposure : array of shape (n,) or (n, e)
        Fill level as indicator columns.
    covariates : array of shape (n, q)
    exposure_terms, covariate_terms : sequence of str
    truncation : pair of float, optional
        Quantiles of the weights to which they are cut; None for none.

    Returns
    -------
    ReviewWeights
        Not valid where all or none were reviewed, or the review model does not exist.

    Notes
    -----
    Assumes that, given these covariates, being reviewed does not depend on the outcome.
    Sources: Robins, Hernan & Brumback 2000, 10.1097/00001648-200009000-00011; truncation
    Cole & Hernan 2008, 10.1093/aje/kwn164.
    """
    seen = np.asarray(reviewed, dtype=float)
    level = np.asarray(exposure, dtype=float).reshape(seen.size, -1)
    other = np.asarray(covariates, dtype=float).reshape(seen.size, -1)
    known = np.isfinite(np.column_stack([seen, level, other])).all(axis=1)
    one = np.ones((seen.size, 1))
    terms = ("intercept", *exposure_terms)
    full_design = np.hstack([one, level, other])
    full = fit_logistic(seen, full_design, terms=(*terms, *covariate_terms))
    simple_design = np.hstack([one, level])
    simple = fit_logistic(seen[known], simple_design[known], terms=terms)
    for fit in (full, simple):
        if not fit.valid:
            return _refused(fit, seen, known)
    weights = np.full(seen.size, NAN)
    use = known & (seen == 1.0)
    numerator = expit(simple_design[use] @ simple.vector())
    raw = numerator / expit(full_design[use] @ full.vector())
    cut, limits = _truncated(raw, truncation)
    weights[use] = cut
    return ReviewWeights(
        weights=weights,
        model=full,
        limits=limits,
        n_truncated=int(np.count_nonzero(cut != raw)),
        smallest=float(cut.min()),
        mean=float(cut.mean()),
        largest=float(cut.max()),
        effective_n=float(cut.sum() ** 2 / (cut @ cut)),
        n_reviewed=int(use.sum()),
        n_used=int(known.sum()),
        n_missing=int(np.count_nonzero(~known)),
        balance=_balance(other, level, known, use, cut, tuple(covariate_terms)),
        method=_method(truncation),
        valid=True,
        reason="",
    )


def _method(truncation: tuple[float, float] | None) -> str:
    how = "no truncation"
    if truncation is not None:
        how = f"truncated at quantiles {truncation[0]:g} and {truncation[1]:g}"
    return f"stabilised inverse-probability-of-review weights, {how}"


def _truncated(
    raw: Array, truncation: tuple[float, float] | None
) -> tuple[Array, tuple[float, float] | None]:
    if truncation is None:
        return raw, None
    if not 0 <= truncation[0] < truncation[1] <= 1:
        raise ValueError("truncation must be two increasing quantiles, 0-1")
    low, high = (float(value) for value in np.quantile(raw, truncation))
    return np.clip(raw, low, high), (low, high)


def _balance(
    covariates: Array,
    exposure: Array,
    known: Flags,
    use: Flags,
    weights: Array,
    names: tuple[str, ...],
) -> tuple[Balance, ...]:
    everyone = covariates[known]
    spread = everyone.std(axis=0)
    spread = np.where(spread > 0, spread, 1.0)
    _, group = np.unique(exposure[known], axis=0, return_inverse=True)
    sizes = np.bincount(group)
    found = []
    for i, name in enumerate(names):
        means = np.bincount(group, weights=everyone[:, i]) / sizes
        gap = ((everyone[:, i] - means[group]) / spread[i])[use[known]]
        found.append(Balance(name, float(gap.mean()), float(weights @ gap / weights.sum())))
    return tuple(found)


def _refused(fit: ModelFit, seen: Array, known: Flags) -> ReviewWeights:
    reviewed = int(np.count_nonzero(seen[known] == 1.0))
    reason = f"review cannot be modelled: {fit.reason}"
    if reviewed == int(known.sum()) > 0:
        reason = "every tooth was reviewed, so no weights are needed"
    elif reviewed == 0:
        reason = "no tooth was reviewed"
    return ReviewWeights(
        np.full(seen.size, NAN), fit, None, 0, NAN, NAN, NAN, NAN, reviewed,
        int(known.sum()), int(np.count_nonzero(~known)), (), "review weights", False, reason,
    )  # fmt: skip
