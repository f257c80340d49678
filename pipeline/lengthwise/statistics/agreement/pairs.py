"""Pairs of one method and its reference, and when there are too few of them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.clusters import FloatArray

MINIMUM_PAIRS = 10
PAIRS_WITHOUT_WARNING = 20
NO_VARIATION = "no variation in the differences"


@dataclass(frozen=True, slots=True)
class Pairs:
    """Complete pairs: `difference` = method - reference, `mean` of both, `known` rows kept."""

    difference: FloatArray
    mean: FloatArray
    known: np.ndarray
    n_used: int
    n_missing: int


def complete_pairs(method: ArrayLike, reference: ArrayLike) -> Pairs:
    """Return the pairs in which both values are known, from two arrays (n,)."""
    first = np.asarray(method, dtype=float)
    second = np.asarray(reference, dtype=float)
    if first.ndim != 1 or first.shape != second.shape:
        raise ValueError(
            f"method and reference must be alike (n,), got {first.shape} and {second.shape}."
        )
    known = np.isfinite(first) & np.isfinite(second)
    x, y = first[known], second[known]
    return Pairs(x - y, (x + y) / 2, known, int(known.sum()), int((~known).sum()))


def too_few(n: int, minimum: int, *, what: str = "pairs") -> str:
    """Return why `n` is too few, or an empty text."""
    return f"fewer than {minimum} {what} ({n})" if n < minimum else ""


def warning_for(n: int, *, what: str = "pairs") -> str:
    """Return the warning that stands beside limits from few pairs, or an empty text."""
    if n < PAIRS_WITHOUT_WARNING:
        return f"only {n} {what}: the limits are uncertain"
    return ""
