"""Observed against expected counts by unit, with exact intervals."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.process.control_chart import FloatArray
from lengthwise.statistics.proportions import wilson_bounds
from lengthwise.statistics.results import NAN, Estimate, refused

METHOD = "observed / expected, exact Poisson interval (Garwood 1936)"
SHARE_METHOD = "observed / expected, Wilson interval of the share, design effect {effect:.2f}"


@dataclass(frozen=True, slots=True)
class UnitObservedExpected:
    """One unit's observed and expected events.

    Attributes
    ----------
    unit : str
        Code of the unit.
    cases, observed : int
        Cases and events.
    expected : float
        Sum of the unit's expected risks.
    ratio : Estimate
        Observed / expected.
    z : float
        (observed - expected) / sqrt(sum of p (1 - p)).
    adjusted_share : float
        Ratio times the overall share, 0-1 unless the ratio is large.
    """

    unit: str
    cases: int
    observed: int
    expected: float
    ratio: Estimate
    z: float
    adjusted_share: float


@dataclass(frozen=True, slots=True)
class ObservedExpected:
    """All units, in the order of their codes, with the overall share."""

    units: tuple[UnitObservedExpected, ...]
    overall_share: float
    n_used: int
    n_missing: int
    method: str = METHOD
    valid: bool = True
    reason: str = ""


def observed_expected(
    outcome: ArrayLike,
    expected_risk: ArrayLike,
    unit: ArrayLike,
    *,
    level: float = 0.95,
    minimum_cases: int = 10,
    design_effect: float | None = None,
) -> ObservedExpected:
    """Compare each unit's events with the sum of its expected risks.

    Parameters
    ----------
    outcome : array_like of 0, 1 or NaN, shape (n_cases,)
        Whether the event happened.
    expected_risk : array_like of float, shape (n_cases,)
        Risk of each case from a model **without** unit terms, 0-1. A case with a missing
        outcome, risk or unit is set aside and counted.
    unit : array_like of shape (n_cases,)
        Code of the clinician or site.
    level : float
        Confidence level, 0-1.
    minimum_cases : int
        A unit with fewer cases shows counts and no ratio.
    design_effect : float, optional
        By how much cases alike within patients widen the variance, at least 1. When given,
        the interval is that of the unit's share (Wilson, effective cases) over its expected
        share, instead of the exact Poisson one, which is wide for events that are not rare.

    Returns
    -------
    ObservedExpected
        Units sorted by code, never by result. For clinicians give the last four quarters
        and keep the result inside the practice: shared rolling windows leak single quarters
        by subtraction.

    Raises
    ------
    ValueError
        When shapes differ, an outcome is not 0 or 1, a risk lies outside 0..1, or the design
        effect is below 1.

    Notes
    -----
    The interval takes the expected count as known and, without a design effect, the cases as
    independent Poisson events.

    References
    ----------
    Garwood F. Biometrika 1936;28:437-442. doi:10.1093/biomet/28.3-4.437
    Wilson EB. J Am Stat Assoc 1927;22:209-212. doi:10.1080/01621459.1927.10502953
    """
    if design_effect is not None and design_effect < 1:
        raise ValueError("design_effect must be at least 1")
    event, risk, code, n_missing = _complete(outcome, expected_risk, unit)
    if event.size == 0:
        return ObservedExpected((), NAN, 0, n_missing, valid=False, reason="there are no cases")
    names, member = np.unique(code, return_inverse=True)
    counts = [
        np.bincount(member, weights=weight, minlength=names.size)
        for weight in (np.ones(event.size), event, risk, risk * (1 - risk))
    ]
    overall = float(event.mean())
    units = tuple(
        _unit(str(name), int(cases), int(seen), float(hoped), float(variance), overall,
              level, minimum_cases, design_effect)
        for name, cases, seen, hoped, variance in zip(names, *counts, strict=True)
    )  # fmt: skip
    return ObservedExpected(units, overall, event.size, n_missing)


def exact_ratio(observed: int, expected: float, *, cases: int, level: float = 0.95) -> Estimate:
    """Observed / expected with exact Poisson limits; zero events give a lower limit of 0."""
    if expected <= 0:
        return refused("no event was expected", method=METHOD, n_used=cases, level=level)
    tail = (1 - level) / 2
    lower = float(stats.gamma.ppf(tail, observed)) if observed else 0.0
    upper = float(stats.gamma.ppf(1 - tail, observed + 1))
    ratio = observed / expected
    return Estimate(ratio, lower / expected, upper / expected, level, cases, 0, METHOD)


def share_ratio(
    observed: int, expected: float, *, cases: int, design_effect: float, level: float = 0.95
) -> Estimate:
    """Observed / expected with the Wilson limits of the unit's share over its expected share.

    Cases and events are divided by the design effect, at least 1.
    """
    method = SHARE_METHOD.format(effect=design_effect)
    if expected <= 0:
        return refused("no event was expected", method=method, n_used=cases, level=level)
    lower, upper = wilson_bounds(observed / design_effect, cases / design_effect, level=level)
    scale = cases / expected
    return Estimate(observed / expected, lower * scale, upper * scale, level, cases, 0, method)


def _unit(
    name: str, cases: int, seen: int, hoped: float, variance: float, overall: float,
    level: float, minimum: int, design_effect: float | None,
) -> UnitObservedExpected:  # fmt: skip
    if cases < minimum:
        reason = f"{seen} of {cases}: fewer than {minimum} cases, counts only"
        empty = refused(reason, method=METHOD, n_used=cases, level=level)
        return UnitObservedExpected(name, cases, seen, hoped, empty, NAN, NAN)
    if design_effect is None:
        ratio = exact_ratio(seen, hoped, cases=cases, level=level)
    else:
        ratio = share_ratio(seen, hoped, cases=cases, design_effect=design_effect, level=level)
    z = (seen - hoped) / variance**0.5 if variance > 0 else NAN
    return UnitObservedExpected(name, cases, seen, hoped, ratio, z, ratio.estimate * overall)


def _complete(
    outcome: ArrayLike, expected_risk: ArrayLike, unit: ArrayLike
) -> tuple[FloatArray, FloatArray, np.ndarray, int]:
    event, risk = np.asarray(outcome, dtype=float), np.asarray(expected_risk, dtype=float)
    code = np.asarray(unit, dtype=object)
    if event.ndim != 1 or not event.shape == risk.shape == code.shape:
        raise ValueError("outcome, expected_risk and unit must have one common length")
    named = np.array([value is not None and value == value for value in code], dtype=bool)
    kept = np.isfinite(event) & np.isfinite(risk) & named
    event, risk = event[kept], risk[kept]
    if np.any((event != 0) & (event != 1)):
        raise ValueError("outcome must be 0 or 1")
    if np.any((risk < 0) | (risk > 1)):
        raise ValueError("expected_risk must lie within 0..1")
    return event, risk, code[kept].astype(str), int((~kept).sum())
