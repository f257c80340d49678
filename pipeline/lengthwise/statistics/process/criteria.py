"""Result of one audit criterion: counts, share, interval and gap to the target."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.proportions import clustered_proportion_of_rows, proportion
from lengthwise.statistics.results import NAN, Estimate, refused

MINIMUM_DENOMINATOR = 10


@dataclass(frozen=True, slots=True)
class CriterionResult:
    """One criterion in one period.

    Attributes
    ----------
    numerator, denominator, exceptions : int
        Cases that met it, cases it applied to, and cases taken out for a stated exception.
    share : Estimate
        Numerator / denominator, 0-1; `n_missing` counts cases that could not be judged.
    target : float or None
        The practice's own target, 0-1.
    gap_points : float
        Share minus target in percentage points; negative is short of a target to be reached
        from below. NaN without a share or target.
    gap_cases : int or None
        Cases more that would have reached the target (fewer, when lower is wanted); 0 when
        it is reached.
    n_clusters : int
        Patients, 0 when none were given.
    """

    numerator: int
    denominator: int
    exceptions: int
    share: Estimate
    target: float | None
    higher_is_wanted: bool
    gap_points: float
    gap_cases: int | None
    n_clusters: int = 0


def criterion_result(
    met: ArrayLike,
    *,
    is_exception: ArrayLike | None = None,
    cluster: ArrayLike | None = None,
    target: float | None = None,
    higher_is_wanted: bool = True,
    level: float = 0.95,
    minimum_denominator: int = MINIMUM_DENOMINATOR,
) -> CriterionResult:
    """Count a criterion over the cases it applies to.

    Parameters
    ----------
    met : array_like of 0, 1 or NaN, shape (n_cases,)
        Whether each case met the criterion. NaN: not recorded; set aside and counted, never
        read as met or not met.
    is_exception : array_like of bool, shape (n_cases,), optional
        Cases taken out of the denominator for a reason laid down beforehand.
    cluster : array_like of shape (n_cases,), optional
        Patient of each case. With patients the interval is Wilson with a design effect from
        the intraclass correlation; without, plain Wilson for independent cases.
    target : float, optional
        Target share, 0-1.
    higher_is_wanted : bool
        False when the target is an upper bound.
    level : float
        Confidence level, 0-1.
    minimum_denominator : int
        Fewer cases: counts, and no share.

    Returns
    -------
    CriterionResult

    Raises
    ------
    ValueError
        When shapes differ, a value is not 0 or 1, or the target lies outside 0..1.

    References
    ----------
    Wilson EB. J Am Stat Assoc 1927;22:209-212. doi:10.1080/01621459.1927.10502953
    Rao JNK, Scott AJ. Biometrics 1992;48:577-585. doi:10.2307/2532311
    """
    if target is not None and not 0 <= target <= 1:
        raise ValueError("target must lie within 0..1")
    value = np.asarray(met, dtype=float)
    excepted = _flags(is_exception, value.shape)
    applied = value[~excepted]
    known = applied[np.isfinite(applied)]
    if np.any((known != 0) & (known != 1)):
        raise ValueError("met must be 0, 1 or missing")
    numerator, denominator = int(known.sum()), known.size
    patients = None if cluster is None else _labels(cluster, value.shape)[~excepted]
    share, n_clusters = _share(applied, patients, level, minimum_denominator)
    points, cases = _gap(numerator, denominator, share, target, higher_is_wanted)
    return CriterionResult(
        numerator=numerator,
        denominator=denominator,
        exceptions=int(excepted.sum()),
        share=share,
        target=target,
        higher_is_wanted=higher_is_wanted,
        gap_points=points,
        gap_cases=cases,
        n_clusters=n_clusters,
    )


def cases_to_target(
    numerator: int, denominator: int, target: float, *, higher_is_wanted: bool = True
) -> int:
    """Return how many cases more (or fewer) would have reached the target."""
    # A target such as 0.7 is not a binary fraction: 0.7 * 30 must not ask for a 22nd case.
    wanted = round(target * denominator, 9)
    if higher_is_wanted:
        return max(math.ceil(wanted) - numerator, 0)
    return max(numerator - math.floor(wanted), 0)


def _share(
    applied: np.ndarray, patients: np.ndarray | None, level: float, minimum: int
) -> tuple[Estimate, int]:
    known = np.isfinite(applied)
    count, met = int(known.sum()), int(applied[known].sum())
    n_missing = int((~known).sum())
    n_clusters = 0 if patients is None else len(np.unique(patients[known]))
    if count < max(minimum, 1):
        method = "proportion; Wilson interval"
        reason = f"{met} of {count}: fewer than {minimum} cases, counts only"
        return refused(
            reason, method=method, n_used=count, n_missing=n_missing, level=level
        ), n_clusters
    if patients is None:
        return proportion(met, count, level=level, n_missing=n_missing), 0
    return clustered_proportion_of_rows(applied, patients, level=level).wilson_icc, n_clusters


def _gap(
    numerator: int, denominator: int, share: Estimate, target: float | None, higher: bool
) -> tuple[float, int | None]:
    if target is None or denominator == 0:
        return NAN, None
    cases = cases_to_target(numerator, denominator, target, higher_is_wanted=higher)
    points = 100 * (share.estimate - target) if share.valid else NAN
    return points, cases


def _flags(values: ArrayLike | None, shape: tuple[int, ...]) -> np.ndarray:
    if len(shape) != 1:
        raise ValueError("met must be one-dimensional")
    if values is None:
        return np.zeros(shape, dtype=bool)
    flags = np.asarray(values, dtype=bool)
    if flags.shape != shape:
        raise ValueError("is_exception needs one entry for each case")
    return flags


def _labels(values: ArrayLike, shape: tuple[int, ...]) -> np.ndarray:
    labels = np.asarray(values)
    if labels.shape != shape:
        raise ValueError("cluster needs one entry for each case")
    return labels
