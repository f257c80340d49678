"""Pairs of one method and its reference, and when there are too few of them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.clusters import FloatArray, IntArray, cluster_codes
from lengthwise.statistics.results import Estimate, refused

MINIMUM_PAIRS = 10
PAIRS_WITHOUT_WARNING = 20
NO_VARIATION = "no variation in the differences"


@dataclass(frozen=True, slots=True)
class Pairs:
    """Complete pairs: `difference` = method - reference, `mean` of both, `known` rows kept."""

    method: FloatArray
    reference: FloatArray
    difference: FloatArray
    mean: FloatArray
    known: np.ndarray
    n_used: int
    n_missing: int

    def codes(self, patient: ArrayLike | None) -> tuple[IntArray, int]:
        """Return cluster codes of the kept rows and their number; without patients, rows."""
        if patient is None:
            return np.arange(self.n_used), self.n_used
        return cluster_codes(np.asarray(patient)[self.known])

    def around(
        self, value: float, half: float, level: float, method: str, reason: str = ""
    ) -> Estimate:
        """Return `value` -/+ `half` with the counts of these pairs."""
        centre, reach = float(value), float(half)
        low, high = centre - reach, centre + reach
        return Estimate(
            centre, low, high, level, self.n_used, self.n_missing, method, True, reason
        )

    def refused(self, reason: str, method: str, level: float) -> Estimate:
        """Return the refusal with the counts of these pairs."""
        counts = {"n_used": self.n_used, "n_missing": self.n_missing}
        return refused(reason, method=method, level=level, **counts)


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
    return Pairs(x, y, x - y, (x + y) / 2, known, int(known.sum()), int((~known).sum()))


def too_few(n: int, minimum: int, *, what: str = "pairs") -> str:
    """Return why `n` is too few, or an empty text."""
    return f"fewer than {minimum} {what} ({n})" if n < minimum else ""


def warning_for(n: int, *, what: str = "pairs") -> str:
    """Return the warning that stands beside limits from few pairs, or an empty text."""
    if n < PAIRS_WITHOUT_WARNING:
        return f"only {n} {what}: the limits are uncertain"
    return ""
