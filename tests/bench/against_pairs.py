"""A pair to compare: ours and the nearest counterpart on the same rows."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

Numbers = tuple[float, ...]


@dataclass(frozen=True)
class Pair:
    """One analysis; without a counterpart only our seconds are measured.

    `up_to`: the pipeline does not run the analysis on more canals. `closeness`: the relative
    difference within which both must agree; wider where the counterpart's optimiser stops early.
    """

    method_id: str
    what: str
    rows: Callable[[int], Any]
    ours: Callable[[Any], Numbers]
    theirs: Callable[[Any], Numbers] | None = None
    counterpart: str = "none"
    up_to: int = 1_000_000
    closeness: float = 1e-8


def largest_difference(found: Numbers, other: Numbers) -> float:
    """Return the largest relative difference of what both estimate."""
    return max(abs(a - b) / max(abs(b), 1e-12) for a, b in zip(found, other, strict=True))


def clustered_least_squares(
    response: np.ndarray, design: np.ndarray, patient: np.ndarray
) -> Any:
    """Return statsmodels' least squares with errors by patient."""
    import statsmodels.api as sm

    return sm.OLS(response, design).fit(cov_type="cluster", cov_kwds={"groups": patient})


def clustered_logit(outcome: np.ndarray, design: np.ndarray, patient: np.ndarray | None) -> Any:
    """Return statsmodels' logistic regression, with errors by patient where they are given."""
    import statsmodels.api as sm

    by = {} if patient is None else {"cov_type": "cluster", "cov_kwds": {"groups": patient}}
    return sm.Logit(outcome, design).fit(disp=0, **by)
