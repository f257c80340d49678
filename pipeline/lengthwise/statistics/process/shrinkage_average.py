"""Shrunken unit effects with the uncertainty of the variation between units in their intervals."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from lengthwise.statistics.process.control_chart import FloatArray
from lengthwise.statistics.process.funnel import checked_units
from lengthwise.statistics.process.unit_likelihood import UnitRows, integrated, unit_rows

SPREADS = 12
LARGEST_SPREAD = 1.5
NEWTON_STEPS = 2
BISECTIONS = 50


@dataclass(frozen=True, slots=True)
class AveragedEffects:
    """Log odds ratio of each unit, in the order of `units`.

    Attributes
    ----------
    effect, lower, upper : ndarray of shape (n_units,)
    spread_mean : float
        Posterior mean of the standard deviation between units.
    """

    units: tuple[str, ...]
    effect: FloatArray
    lower: FloatArray
    upper: FloatArray
    spread_mean: float
    level: float


def averaged_effects(
    events: ArrayLike,
    cases: ArrayLike,
    unit: ArrayLike,
    *,
    offset: ArrayLike | None = None,
    level: float = 0.95,
    against_offset: bool = False,
    largest_spread: float = LARGEST_SPREAD,
) -> AveragedEffects:
    """Average each unit's effect over the spreads that the data allow.

    Parameters
    ----------
    events, cases, unit, offset
        As in `logit_normal_shrinkage`, which says when the data allow no such fit.
    level : float
        Level of the intervals, 0-1.
    against_offset : bool
        True: the effect against what the offset lets expect, that is mean plus unit effect.
        False: against the mean of the units.
    largest_spread : float
        Standard deviations between units from 0 to this are taken as equally likely
        beforehand, on the log odds scale; 1.5 is an odds ratio of 4.5.

    Returns
    -------
    AveragedEffects

    Raises
    ------
    ValueError
        When shapes differ or counts are impossible.

    Notes
    -----
    With few units the spread is hardly known, and intervals that take its best fit as known
    are far too narrow, most of all where the best fit is 0. For each spread the mean is at its
    maximum and its error is carried to first order. Assumes normal unit effects and
    independent cases within a unit.

    References
    ----------
    Gelman A. Bayesian Anal 2006;1:515-534 (flat on the standard deviation).
    doi:10.1214/06-BA117A
    """
    event, case = checked_units(events, cases)
    rows, _ = unit_rows(event, case, unit, offset)
    width = largest_spread / SPREADS
    spreads = width * (np.arange(SPREADS) + 0.5)
    total = rows.events.sum(), rows.cases.sum()
    mean = float(np.log((total[0] + 0.5) / (total[1] - total[0] + 0.5)) - rows.offset.mean())
    parts = []
    for spread in spreads:
        mean, part = _at_spread(rows, mean, float(spread), against_offset)
        parts.append(part)
    log_weight = np.array([part[0] for part in parts])
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    centre, error = (np.array([part[place] for part in parts]) for place in (1, 2))
    ends = [
        _quantile(weight, centre, error, share) for share in ((1 - level) / 2, (1 + level) / 2)
    ]
    return AveragedEffects(
        rows.units, weight @ centre, ends[0], ends[1], float(weight @ spreads), level
    )


def _at_spread(
    rows: UnitRows, mean: float, spread: float, against_offset: bool
) -> tuple[float, tuple[float, FloatArray, FloatArray]]:
    """Return the best mean, and log weight, effects and errors at one spread."""
    for step in range(NEWTON_STEPS + 1):
        post = integrated(rows, mean, spread)
        effect = post.average(lambda u: u)
        variance = np.maximum(post.average(lambda u: u**2) - effect**2, 1e-12)
        # Information of a unit's own data, from posterior and prior precision.
        own = np.maximum(1 / variance - 1 / spread**2, 1e-12)
        precision = float((1 / (1 / own + spread**2)).sum())
        if step < NEWTON_STEPS:
            mean += float(effect.sum()) / spread**2 / precision
    pulled = own / (own + 1 / spread**2)
    weight = post.log_likelihood - 0.5 * np.log(precision)
    if against_offset:
        # A mean that is one higher takes `pulled` from the effect, so the sum rises by the rest.
        error = np.sqrt(variance + (1 - pulled) ** 2 / precision)
        return mean, (weight, mean + effect, error)
    return mean, (weight, effect, np.sqrt(variance + pulled**2 / precision))


def _quantile(
    weight: FloatArray, centre: FloatArray, error: FloatArray, share: float
) -> FloatArray:
    """Return a quantile of each unit's mixture of normals by bisection."""
    low, high = (centre - 9 * error).min(axis=0), (centre + 9 * error).max(axis=0)
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        is_below = weight @ special.ndtr((middle - centre) / error) < share
        low, high = np.where(is_below, middle, low), np.where(is_below, high, middle)
    return np.asarray((low + high) / 2)
