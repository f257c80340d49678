"""The frozen result that every statistic answers with."""

import math
from dataclasses import dataclass

NAN = math.nan


@dataclass(frozen=True, slots=True)
class Estimate:
    """One number with its uncertainty and its provenance.

    Attributes
    ----------
    estimate, lower, upper : float
        In the unit the function states; NaN where `valid` is False.
    level : float
        Confidence level of `lower` and `upper`, 0-1.
    n_used, n_missing : int
        Units that entered, and units set aside because a value was missing.
    method : str
        Name of the estimator and of the interval, as printed in a report.
    valid : bool
        False where the number must not be shown.
    reason : str
        Why it is not valid, or a warning that stands beside it; empty when there is none.
    """

    estimate: float
    lower: float
    upper: float
    level: float
    n_used: int
    n_missing: int
    method: str
    valid: bool = True
    reason: str = ""


def refused(
    reason: str, *, method: str, n_used: int = 0, n_missing: int = 0, level: float = 0.95
) -> Estimate:
    """Return the result that stands in the place of a number that cannot be given."""
    return Estimate(NAN, NAN, NAN, level, n_used, n_missing, method, False, reason)
