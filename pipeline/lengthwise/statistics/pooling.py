"""Pool practices from their summaries, without rows; refuse summaries that are too small."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lengthwise.statistics.random_effects import RandomEffects, random_effects
from lengthwise.statistics.results import NAN

MINIMUM_CELL = 10
EVENTS_PER_PARAMETER = 10
LIMIT_FACTOR = 1.96


@dataclass(frozen=True, slots=True)
class SiteSums:
    """What a site shares of its differences: count, sum and sum of squares, in mm."""

    n: int
    total: float
    total_of_squares: float


@dataclass(frozen=True, slots=True)
class PooledMoments:
    """Bias, spread and limits over all sites, equal to those of the pooled rows.

    Attributes
    ----------
    bias, sd_total, sd_within : float
        Mean of all differences; their SD about it (divisor N - 1); SD about each site's own
        mean (divisor N - sites). In mm; differences are method - reference.
    lower_limit, upper_limit : float
        bias -/+ factor times sd_total.
    site_means, site_sds : tuple of float
    n_used : int
    """

    bias: float
    sd_total: float
    sd_within: float
    lower_limit: float
    upper_limit: float
    site_means: tuple[float, ...]
    site_sds: tuple[float, ...]
    n_used: int
    method: str = "exact pooling of counts, sums and sums of squares"
    valid: bool = True
    reason: str = ""


def site_sums(differences_mm: ArrayLike) -> SiteSums:
    """Return what a site shares; missing differences are left out."""
    values = np.asarray(differences_mm, dtype=float)
    known = values[np.isfinite(values)]
    return SiteSums(known.size, float(known.sum()), float((known**2).sum()))


def pool_moments(
    sites: Iterable[SiteSums],
    *,
    factor: float = LIMIT_FACTOR,
    minimum_n: int = MINIMUM_CELL,
) -> PooledMoments:
    """Pool means and SDs exactly.

    Parameters
    ----------
    sites : iterable of SiteSums
        One entry a site. Any site below `minimum_n` refuses the whole: its sums would come
        near to single values.
    factor : float
        Multiplier of the SD for the limits of agreement.
    minimum_n : int
        Smallest count a site may share.

    Returns
    -------
    PooledMoments
        The limits treat every difference alike; variation between sites is inside
        `sd_total`.

    Raises
    ------
    ValueError
        When sums are impossible (a negative variance beyond rounding).

    References
    ----------
    Bland JM, Altman DG. Stat Methods Med Res 1999;8:135-160.
    doi:10.1177/096228029900800204
    """
    parts = tuple(sites)
    n = np.array([part.n for part in parts], dtype=float)
    reason = ""
    if not parts:
        reason = "there are no sites to pool"
    elif n.min() < minimum_n:
        reason = f"a site has {int(n.min())} differences, fewer than {minimum_n}: not pooled"
    elif n.sum() < 2:
        reason = "fewer than 2 differences"
    if reason:
        return PooledMoments(
            NAN, NAN, NAN, NAN, NAN, (), (), int(n.sum()), valid=False, reason=reason
        )
    total = np.array([part.total for part in parts])
    within = np.array([part.total_of_squares for part in parts]) - total**2 / n
    if np.any(within < -1e-9 * np.abs(total**2 / n)):
        raise ValueError("a site's sum of squares is smaller than its sum allows")
    within = np.maximum(within, 0.0)
    bias, means = float(total.sum() / n.sum()), total / n
    # Squares within plus squares between: no subtraction of two large sums.
    spread = within.sum() + (n * (means - bias) ** 2).sum()
    sd = float(np.sqrt(spread / (n.sum() - 1)))
    free = n.sum() - n.size
    return PooledMoments(
        bias=bias,
        sd_total=sd,
        sd_within=float(np.sqrt(within.sum() / free)) if free > 0 else NAN,
        lower_limit=bias - factor * sd,
        upper_limit=bias + factor * sd,
        site_means=tuple(means.tolist()),
        site_sds=tuple(np.sqrt(_ratio(within, n - 1)).tolist()),
        n_used=int(n.sum()),
    )


def pool_coefficients(
    names: Iterable[str],
    coefficients: ArrayLike,
    covariances: ArrayLike,
    *,
    estimator: str = "REML",
    interval: str = "hartung-knapp-modified",
    level: float = 0.95,
) -> dict[str, RandomEffects]:
    """Pool each coefficient of a model that every site has fitted alike.

    Parameters
    ----------
    names : iterable of str
        Names of the coefficients.
    coefficients : array_like of float, shape (n_sites, n_coefficients)
    covariances : array_like of float, shape (n_sites, n_coefficients, n_coefficients)
        Only the diagonals enter: each coefficient is pooled by itself.
    estimator, interval, level
        As in `random_effects`.

    Returns
    -------
    dict of str to RandomEffects

    Raises
    ------
    ValueError
        When shapes do not fit.
    """
    labels = tuple(names)
    values, covariance = np.asarray(coefficients, float), np.asarray(covariances, float)
    if values.ndim != 2 or values.shape[1] != len(labels):
        raise ValueError("coefficients need one row a site and one column a name")
    if covariance.shape != (*values.shape, values.shape[1]):
        raise ValueError("covariances need one square matrix a site")
    variances = np.diagonal(covariance, axis1=1, axis2=2)
    return {
        label: random_effects(
            values[:, k], variances[:, k], estimator=estimator, interval=interval, level=level
        )
        for k, label in enumerate(labels)
    }


def sharing_refusals(
    cells: Mapping[str, int],
    *,
    events: Mapping[str, int] | None = None,
    parameters: Mapping[str, int] | None = None,
    minimum_cell: int = MINIMUM_CELL,
    events_per_parameter: int = EVENTS_PER_PARAMETER,
) -> tuple[str, ...]:
    """Return why a summary may not leave the practice; empty when it may.

    Parameters
    ----------
    cells : mapping of str to int
        Every count in the summary by its name, complements (cases without the event)
        included. A zero refuses as any small count does: it tells something about everyone.
    events, parameters : mapping of str to int, optional
        For each model in the summary, its events (or non-events, the rarer) and parameters.
    minimum_cell, events_per_parameter : int
        Thresholds.

    Returns
    -------
    tuple of str
        One plain sentence for each fault. The small count itself is not printed.

    Raises
    ------
    ValueError
        When events and parameters do not name the same models.
    """
    happened, fitted = dict(events or {}), dict(parameters or {})
    if happened.keys() != fitted.keys():
        raise ValueError("events and parameters must name the same models")
    small = [
        f"{name}: a count below {minimum_cell}" for name, n in cells.items() if n < minimum_cell
    ]
    sparse = [
        f"{name}: fewer than {events_per_parameter} events for each parameter"
        for name, count in fitted.items()
        if happened[name] < events_per_parameter * count
    ]
    return tuple(small + sparse)


def _ratio(top: NDArray[np.float64], bottom: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.divide(top, bottom, out=np.full(top.shape, NAN), where=bottom > 0)
