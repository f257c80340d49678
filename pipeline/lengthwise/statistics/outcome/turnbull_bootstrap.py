"""Intervals for interval-censored healing by drawing whole patients."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.arrays import Array, Index
from lengthwise.statistics.outcome.rows import cluster_numbers
from lengthwise.statistics.outcome.turnbull import innermost_intervals, inside_intervals
from lengthwise.statistics.results import NAN, Estimate

METHOD = "Turnbull's estimate, percentile interval from {} draws of patients"
FEWEST_PATIENTS = 10
# A draw needs only the precision of a quantile over draws.
TOLERANCE = 1e-7
MOST_STEPS = 5_000
DRAWS_AT_ONCE = 250
# Draws times patients held at once, which bounds the memory.
MOST_NUMBERS = 20_000_000


def turnbull_survival(
    left: ArrayLike,
    right: ArrayLike,
    cluster: ArrayLike,
    *,
    times: Sequence[float],
    n_draws: int = 1_000,
    seed: int,
    level: float = 0.95,
) -> tuple[Estimate, ...]:
    """Return survival at each time with an interval that allows for patients.

    Parameters
    ----------
    left, right : array of shape (n,)
        As for `turnbull`.
    cluster : array of shape (n,)
        Patient of each unit.
    times : sequence of float
    n_draws : int
        Bootstrap samples of patients.
    seed : int
    level : float
        Confidence level, 0-1.

    Returns
    -------
    tuple of Estimate
        Refused below ten patients, or where the event was never seen; the point alone,
        with a reason, where all draws agree.

    Notes
    -----
    The percentile interval is approximate: the estimator converges at the cube root of n.
    Source: Turnbull 1976, 10.1111/j.2517-6161.1976.tb01597.x; Efron & Tibshirani 1993,
    10.1201/9780429246593.
    """
    a, b = np.asarray(left, dtype=float), np.asarray(right, dtype=float)
    codes = cluster_numbers(np.asarray(cluster))
    known = np.isfinite(a) & ~np.isnan(b) & (codes >= 0)
    a, b, codes = a[known], b[known], cluster_numbers(codes[known])
    n_missing = int(np.count_nonzero(~known))
    n_patients = int(codes.max()) + 1 if codes.size else 0
    method = METHOD.format(n_draws)
    none = Estimate(NAN, NAN, NAN, level, int(a.size), n_missing, method, False)
    if n_patients < FEWEST_PATIENTS:
        reason = f"{n_patients} patients, fewer than {FEWEST_PATIENTS}"
        return (replace(none, reason=reason),) * len(times)
    if not np.isfinite(b).any():
        return (replace(none, reason="the event was never seen"),) * len(times)
    pairs, place = np.unique(np.column_stack([a, b]), axis=0, return_inverse=True)
    starts, ends = innermost_intervals(pairs[:, 0], pairs[:, 1])
    inside = inside_intervals(pairs[:, 0], pairs[:, 1], starts, ends)
    passed = (ends[:, None] <= np.asarray(times, dtype=float)[None, :]).astype(float)
    by_patient = _counts(codes, place.ravel(), n_patients, pairs.shape[0])
    point = 1.0 - _masses(inside, np.asarray(by_patient.sum(axis=0)))[0] @ passed
    drawn = _draws(inside, by_patient, n_draws, seed, passed)
    tails = np.quantile(drawn, [0.5 - level / 2, 0.5 + level / 2], axis=0)
    return tuple(
        _estimate(float(p), float(low), float(high), none)
        for p, low, high in zip(point, tails[0], tails[1], strict=True)
    )


def _counts(codes: Index, place: Index, n_patients: int, n_pairs: int) -> Any:
    """Return how many units of each patient have each pair of ends, sparse."""
    from scipy import sparse

    ones = np.ones(codes.size)
    return sparse.csr_matrix((ones, (codes, place)), shape=(n_patients, n_pairs))


def _draws(inside: Array, by_patient: Any, n_draws: int, seed: int, passed: Array) -> Array:
    """Return survival of each draw at each time, shape (draws, times)."""
    generator = np.random.default_rng(seed)
    n_patients = by_patient.shape[0]
    chance = np.full(n_patients, 1.0 / n_patients)
    parts = []
    size = max(1, min(DRAWS_AT_ONCE, MOST_NUMBERS // n_patients))
    for first in range(0, n_draws, size):
        weights = generator.multinomial(n_patients, chance, size=min(size, n_draws - first))
        parts.append(1.0 - _masses(inside, weights @ by_patient) @ passed)
    return np.vstack(parts)


def _masses(inside: Array, counts: Array) -> Array:
    """Maximise for all rows of counts (draws, pairs) at once; masses (draws, m)."""
    patterns, place = np.unique(inside, axis=0, return_inverse=True)
    grouped = np.zeros((counts.shape[0], patterns.shape[0]))
    np.add.at(grouped.T, place.ravel(), counts.T)
    total = grouped.sum(axis=1, keepdims=True)
    masses = np.full((counts.shape[0], inside.shape[1]), 1.0 / inside.shape[1])
    for _ in range(MOST_STEPS):
        fitted = np.maximum(masses @ patterns.T, 1e-300)
        new = masses * ((grouped / fitted) @ patterns) / total
        change = float(np.abs(new - masses).max())
        masses = new
        if change <= TOLERANCE:
            break
    return masses


def _estimate(point: float, low: float, high: float, none: Estimate) -> Estimate:
    if high - low <= TOLERANCE:
        note = "all draws agree, so this interval would have no width"
        return replace(none, estimate=point, reason=note)
    return replace(none, estimate=point, lower=low, upper=high, valid=True)
