"""Healing time known only to lie between two reviews."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.results import NAN

METHOD = "Turnbull's nonparametric estimate"
MOST_STEPS = 200_000
TOLERANCE = 1e-15
# Masses below this are zero: the algorithm only creeps towards them.
ZERO_MASS = 1e-8


@dataclass(frozen=True, slots=True)
class TurnbullEstimate:
    """Probability mass by interval of time.

    Attributes
    ----------
    intervals : tuple of pair of float
        (left, right], right infinite for never seen; only intervals with mass.
    masses : tuple of float
        Sum to 1.
    times, survival : tuple of float
        1 - mass of the intervals that end by each time; inside an interval with mass the
        survival is not determined.
    log_likelihood : float
    n_used, n_missing : int
    """

    intervals: tuple[tuple[float, float], ...]
    masses: tuple[float, ...]
    times: tuple[float, ...]
    survival: tuple[float, ...]
    log_likelihood: float
    n_used: int
    n_missing: int
    method: str
    valid: bool
    reason: str


def turnbull(
    left: ArrayLike, right: ArrayLike, *, times: Sequence[float] = ()
) -> TurnbullEstimate:
    """Estimate the distribution of a time known to lie in (left, right].

    Parameters
    ----------
    left : array of shape (n,)
        Last review without the event, 0 or more.
    right : array of shape (n,)
        First review with it; infinite where it was never seen. Equal to `left` for a time
        known exactly.
    times : sequence of float
        Times at which survival is given.

    Returns
    -------
    TurnbullEstimate
        Not valid where no unit has an interval, or none has a finite end.

    Raises
    ------
    ValueError
        Where an interval ends before it starts.

    Notes
    -----
    Units count one each; patients are not allowed for, which leaves the estimate itself
    unchanged. Reviews are taken as unrelated to healing. Self-consistency (EM). Source:
    Turnbull 1976, 10.1111/j.2517-6161.1976.tb01597.x.
    """
    a, b = np.asarray(left, dtype=float), np.asarray(right, dtype=float)
    if a.shape != b.shape or a.ndim != 1:
        raise ValueError("left and right must both be of shape (n,)")
    known = np.isfinite(a) & ~np.isnan(b)
    n_missing = int(np.count_nonzero(~known))
    a, b = a[known], b[known]
    if np.any(b < a):
        raise ValueError("an interval must not end before it starts")
    if a.size == 0 or not np.isfinite(b).any():
        reason = "no unit has an interval" if a.size == 0 else "the event was never seen"
        return TurnbullEstimate(
            (), (), tuple(times), (NAN,) * len(times), NAN, a.size, n_missing, METHOD,
            False, reason,
        )  # fmt: skip
    (a, b), counts = _distinct(a, b)
    starts, ends = innermost_intervals(a, b)
    inside = inside_intervals(a, b, starts, ends)
    masses, settled = _maximise(inside, counts)
    kept = masses > 0
    survival = tuple(float(1.0 - masses[ends <= at].sum()) for at in times)
    return TurnbullEstimate(
        intervals=tuple(zip(starts[kept].tolist(), ends[kept].tolist(), strict=True)),
        masses=tuple(masses[kept].tolist()),
        times=tuple(float(at) for at in times),
        survival=survival,
        log_likelihood=float(counts @ np.log(inside @ masses)),
        n_used=int(counts.sum()),
        n_missing=n_missing,
        method=METHOD,
        valid=settled,
        reason="" if settled else "the estimate did not converge",
    )


def innermost_intervals(a: Array, b: Array) -> tuple[Array, Array]:
    """Return the intervals between a left end and the right end that directly follows it.

    Only these can hold mass. An exact time is the closed point [t, t]; other left ends are
    open.
    """
    exact = a == b
    ends = np.concatenate([a, b])
    is_right = np.repeat([False, True], a.size)
    # At equal times: a point's own left end, then right ends, which are closed, then open
    # left ends.
    rank = np.where(is_right, 1, np.where(np.tile(exact, 2), 0, 2))
    order = np.lexsort((rank, ends))
    sorted_right = is_right[order]
    pairs = np.flatnonzero(~sorted_right[:-1] & sorted_right[1:])
    return ends[order][pairs], ends[order][pairs + 1]


def _distinct(a: Array, b: Array) -> tuple[tuple[Array, Array], Array]:
    pairs, counts = np.unique(np.column_stack([a, b]), axis=0, return_counts=True)
    return (pairs[:, 0], pairs[:, 1]), counts.astype(float)


def inside_intervals(a: Array, b: Array, starts: Array, ends: Array) -> Array:
    """Return 1 where a unit's interval holds an innermost one, shape (n, m)."""
    point = starts == ends
    opens = np.where(point, ends > a[:, None], starts >= a[:, None])
    opens |= (a == b)[:, None] & point & (starts == a[:, None])
    return np.asarray(opens & (ends <= b[:, None]), dtype=float)


def _maximise(inside: Array, counts: Array) -> tuple[Array, bool]:
    total = counts.sum()
    masses = np.full(inside.shape[1], 1.0 / inside.shape[1])
    settled = False
    for _ in range(MOST_STEPS):
        new = masses * (inside.T @ (counts / (inside @ masses))) / total
        settled = bool(np.abs(new - masses).max() <= TOLERANCE)
        masses = new
        if settled:
            break
    masses = np.where(masses < ZERO_MASS, 0.0, masses)
    return masses / masses.sum(), settled or _is_stationary(inside, counts, masses)


def _is_stationary(inside: Array, counts: Array, masses: Array) -> bool:
    """Check the conditions of a maximum: no interval's gradient exceeds the total."""
    gradient = inside.T @ (counts / (inside @ masses)) / counts.sum()
    return bool(gradient.max() <= 1.0 + 1e-6)
