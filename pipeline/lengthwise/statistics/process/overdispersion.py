"""Variation between units beyond chance, and funnel limits that carry it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.process.control_chart import FloatArray
from lengthwise.statistics.process.funnel import IntArray, checked_units
from lengthwise.statistics.results import NAN

MINIMUM_UNITS = 10
SCALES = ("arcsine", "proportion")


@dataclass(frozen=True, slots=True)
class Overdispersion:
    """Dispersion of standardised shares about the target.

    Attributes
    ----------
    target : float
        Share 0-1 against which the units were standardised.
    scale : str
        "arcsine" or "proportion".
    phi, phi_winsorised : float
        Mean squared z score, before and after winsorising. 1 means chance alone.
    tau_squared : float
        Variance between units on the chosen scale, from the winsorised phi.
    tau_squared_raw : float
        The same from the raw phi.
    n_used, n_missing : int
        Units with cases, and units without.
    """

    target: float
    scale: str
    phi: float
    phi_winsorised: float
    tau_squared: float
    tau_squared_raw: float
    n_used: int
    n_missing: int
    method: str
    valid: bool = True
    reason: str = ""


def funnel_overdispersion(
    events: ArrayLike,
    cases: ArrayLike,
    *,
    target: float | None = None,
    scale: str = "arcsine",
    winsorised_share: float = 0.1,
    minimum_units: int = MINIMUM_UNITS,
) -> Overdispersion:
    """Estimate phi and tau squared from units standardised against the target.

    z = (y - target) / s with s from the target, so that units at 0 % or 100 % keep a finite
    weight; z beyond the outer percentiles is set to them (type 7 quantiles); phi = mean z^2;
    tau^2 = max(0, [I phi - (I - 1)] / [sum w - sum w^2 / sum w]), w = 1/s^2.

    Parameters
    ----------
    events, cases : array_like of int, shape (n_units,)
        Counts by unit; units without cases are set aside.
    target : float, optional
        Strictly between 0 and 1; the pooled share when not given.
    scale : {"arcsine", "proportion"}
        Arcsine: y = asin(sqrt p), s = 1 / (2 sqrt n), which cannot leave 0..1.
    winsorised_share : float
        Share winsorised at each end, 0 to below 0.5.
    minimum_units : int
        Fewer units than this: refused, since phi and tau are then hardly estimable.

    Returns
    -------
    Overdispersion

    Raises
    ------
    ValueError
        When shapes differ, counts are impossible or the scale is unknown.

    References
    ----------
    Spiegelhalter DJ. Qual Saf Health Care 2005;14:347-351. doi:10.1136/qshc.2005.013755
    """
    if scale not in SCALES:
        raise ValueError(f"scale must be one of {SCALES}, got {scale!r}")
    event, case = checked_units(events, cases)
    kept = case > 0
    event, case, n_missing = event[kept], case[kept], int((~kept).sum())
    centre = target
    if centre is None:
        centre = float(event.sum() / case.sum()) if case.size else NAN
    method = f"overdispersion on the {scale} scale, winsorised {winsorised_share:.0%} each end"
    reason = ""
    if case.size < minimum_units:
        reason = f"{case.size} units, fewer than {minimum_units}: limits are not widened"
    elif not 0 < centre < 1:
        reason = "the pooled share is 0 or 1: variation between units cannot be estimated"
    if reason:
        return Overdispersion(
            centre, scale, NAN, NAN, NAN, NAN, case.size, n_missing, method, False, reason
        )
    scores, error = _scores(event, case, centre, scale)
    phi = float(np.mean(scores**2))
    bounds = np.quantile(scores, [winsorised_share, 1 - winsorised_share])
    phi_winsorised = float(np.mean(np.clip(scores, *bounds) ** 2))
    return Overdispersion(
        target=centre,
        scale=scale,
        phi=phi,
        phi_winsorised=phi_winsorised,
        tau_squared=_tau_squared(phi_winsorised, error),
        tau_squared_raw=_tau_squared(phi, error),
        n_used=case.size,
        n_missing=n_missing,
        method=method,
    )


def widened_limits(
    cases: ArrayLike,
    dispersion: Overdispersion,
    *,
    coverage: float = 0.95,
    kind: str = "additive",
) -> tuple[FloatArray, FloatArray]:
    """Limits that include the variation between units, clipped to 0..1.

    Parameters
    ----------
    cases : array_like of int, shape (n_sizes,)
        Numbers of cases, at least 1.
    dispersion : Overdispersion
        A valid result of `funnel_overdispersion`.
    coverage : float
        0.95 or 0.998 for the usual two pairs of lines.
    kind : {"additive", "multiplicative", "none"}
        Additive: s^2 + tau^2. Multiplicative: s^2 times phi, not below 1. None: s^2.

    Returns
    -------
    tuple of ndarray of shape (n_sizes,)
        Lower and upper limits, proportions 0-1.

    Raises
    ------
    ValueError
        When the dispersion is not valid or `kind` is unknown.
    """
    if not dispersion.valid:
        raise ValueError(f"limits cannot be widened: {dispersion.reason}")
    sizes = np.atleast_1d(np.asarray(cases, dtype=float))
    centre, error = _scaled_centre(sizes, dispersion.target, dispersion.scale)
    if kind == "additive":
        spread = np.sqrt(error**2 + dispersion.tau_squared)
    elif kind == "multiplicative":
        spread = error * max(dispersion.phi_winsorised, 1.0) ** 0.5
    elif kind == "none":
        spread = error
    else:
        raise ValueError(f"unknown kind {kind!r}")
    half = float(stats.norm.ppf(0.5 + coverage / 2)) * spread
    if dispersion.scale == "proportion":
        return np.clip(centre - half, 0, 1), np.clip(centre + half, 0, 1)
    angles = np.clip(centre - half, 0, np.pi / 2), np.clip(centre + half, 0, np.pi / 2)
    return np.sin(angles[0]) ** 2, np.sin(angles[1]) ** 2


def _scaled_centre(sizes: FloatArray, target: float, scale: str) -> tuple[float, FloatArray]:
    if scale == "proportion":
        return target, np.sqrt(target * (1 - target) / sizes)
    return float(np.arcsin(np.sqrt(target))), 0.5 / np.sqrt(sizes)


def _scores(
    event: IntArray, case: IntArray, target: float, scale: str
) -> tuple[FloatArray, FloatArray]:
    centre, error = _scaled_centre(case.astype(float), target, scale)
    share = event / case
    value = share if scale == "proportion" else np.arcsin(np.sqrt(share))
    return (value - centre) / error, error


def _tau_squared(phi: float, error: FloatArray) -> float:
    weight = 1.0 / error**2
    units = error.size
    room = weight.sum() - (weight**2).sum() / weight.sum()
    return max(0.0, float((units * phi - (units - 1)) / room))
