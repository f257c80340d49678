"""Control charts for shares and rates of unequal size: p, Laney's p' and u."""

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.process.control_chart import (
    MINIMUM_POINTS,
    RANGE_OF_TWO_TABLED,
    ControlChart,
    FloatArray,
    as_counts_and_sizes,
    finished_chart,
    refused_chart,
    too_few_points,
)
from lengthwise.statistics.results import NAN

SMALL_EXPECTED_COUNT = 5.0
TOO_SMALL = (
    "too few cases for these limits: cases times centre is below 5 in at least one point; "
    "read the run chart or the chart of cases between events instead"
)


def p_chart(
    counts: ArrayLike, sizes: ArrayLike, *, minimum_points: int = MINIMUM_POINTS
) -> ControlChart:
    """Share chart: centre -/+ 3 sqrt(centre (1 - centre) / size), clipped to 0..1.

    Parameters
    ----------
    counts, sizes : array_like of shape (n_points,)
        Events and cases of each point in the order of time. A point with a missing number
        or without cases is set aside and counted as missing.
    minimum_points : int
        Fewer usable points than this: no limits.

    Returns
    -------
    ControlChart
        Shares 0-1. The note on small points appears when size times centre is below 5.

    Raises
    ------
    ValueError
        When the shapes differ, a count is negative or larger than its size.

    Notes
    -----
    Assumes independent binomial counts with one common share.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2. doi:10.18434/M32189
    """
    return _binomial_chart(counts, sizes, minimum_points=minimum_points, laney="none")


def laney_p_chart(
    counts: ArrayLike,
    sizes: ArrayLike,
    *,
    minimum_points: int = MINIMUM_POINTS,
    floor_at_one: bool = False,
) -> ControlChart:
    """Share chart whose limits also carry the variation between points.

    z_i = (p_i - centre) / s_i, sigma_z = mean moving range of z / 1.128, limits
    centre -/+ 3 s_i sigma_z, clipped to 0..1.

    Parameters
    ----------
    counts, sizes : array_like of shape (n_points,)
        As in `p_chart`.
    minimum_points : int
        Fewer usable points than this: no limits.
    floor_at_one : bool
        False, as published: a sigma_z below 1 narrows the limits. True keeps sigma_z at 1
        or above. The chart's note says which was used whenever sigma_z is below 1.

    Returns
    -------
    ControlChart
        `dispersion` is the estimated sigma_z, before any floor.

    Raises
    ------
    ValueError
        As in `p_chart`.

    References
    ----------
    Laney DB. Qual Eng 2002;14:531-537. doi:10.1081/QEN-120003555
    """
    laney = "floored" if floor_at_one else "as published"
    return _binomial_chart(counts, sizes, minimum_points=minimum_points, laney=laney)


def _binomial_chart(
    counts: ArrayLike, sizes: ArrayLike, *, minimum_points: int, laney: str
) -> ControlChart:
    method = "p chart" if laney == "none" else "p' chart (Laney)"
    count, size, usable = as_counts_and_sizes(counts, sizes)
    share = _divided(count, size, usable)
    n_used = int(usable.sum())
    reason = too_few_points(n_used, minimum_points)
    centre = NAN if reason else float(count[usable].sum() / size[usable].sum())
    if not reason and centre in (0.0, 1.0):
        found = "no event" if centre == 0.0 else "nothing but events"
        reason = f"{found} in {int(size[usable].sum())} cases: limits cannot be estimated"
    if reason:
        n_missing = share.size - n_used
        return refused_chart(
            reason, method=method, values=share, n_used=n_used, n_missing=n_missing
        )
    spread = _divided(np.full(size.shape, centre * (1 - centre)), size, usable) ** 0.5
    sigma_z, factor, notes = _laney_factor((share - centre)[usable] / spread[usable], laney)
    if np.min(size[usable]) * min(centre, 1 - centre) < SMALL_EXPECTED_COUNT:
        notes = (*notes, TOO_SMALL)
    half = 3.0 * spread * factor
    return finished_chart(
        method=method,
        values=share,
        centre=centre,
        lower=np.clip(centre - half, 0.0, 1.0),
        upper=np.clip(centre + half, 0.0, 1.0),
        n_used=n_used,
        dispersion=sigma_z,
        notes=notes,
    )


def _laney_factor(scores: FloatArray, laney: str) -> tuple[float, float, tuple[str, ...]]:
    if laney == "none":
        return NAN, 1.0, ()
    sigma_z = float(np.abs(np.diff(scores)).mean()) / RANGE_OF_TWO_TABLED
    if sigma_z >= 1.0:
        return sigma_z, sigma_z, ()
    if laney == "floored":
        return sigma_z, 1.0, ("sigma_z is below 1 and was raised to 1",)
    return sigma_z, sigma_z, ("sigma_z is below 1 and narrows the limits, as published",)


def u_chart(
    counts: ArrayLike, sizes: ArrayLike, *, minimum_points: int = MINIMUM_POINTS
) -> ControlChart:
    """Rate chart: centre -/+ 3 sqrt(centre / size), lower limit not below 0.

    Parameters
    ----------
    counts, sizes : array_like of shape (n_points,)
        Events and the opportunity for them (any positive unit); several events may fall on
        one unit. Missing rule as in `p_chart`.
    minimum_points : int
        Fewer usable points than this: no limits.

    Returns
    -------
    ControlChart
        Rates in events per unit of `sizes`.

    Raises
    ------
    ValueError
        When the shapes differ or a count is negative.

    Notes
    -----
    Assumes independent Poisson counts with one common rate.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.1. doi:10.18434/M32189
    """
    count, size, usable = as_counts_and_sizes(counts, sizes, whole=False)
    rate = _divided(count, size, usable)
    n_used = int(usable.sum())
    reason = too_few_points(n_used, minimum_points)
    if not reason and count[usable].sum() == 0:
        reason = f"no event in {n_used} points: limits cannot be estimated"
    if reason:
        n_missing = rate.size - n_used
        return refused_chart(
            reason, method="u chart", values=rate, n_used=n_used, n_missing=n_missing
        )
    centre = float(count[usable].sum() / size[usable].sum())
    half = 3.0 * _divided(np.full(size.shape, centre), size, usable) ** 0.5
    small = np.min(size[usable]) * centre < SMALL_EXPECTED_COUNT
    return finished_chart(
        method="u chart",
        values=rate,
        centre=centre,
        lower=np.maximum(centre - half, 0.0),
        upper=centre + half,
        n_used=n_used,
        notes=(TOO_SMALL,) if small else (),
    )


def _divided(top: FloatArray, bottom: FloatArray, usable: np.ndarray) -> FloatArray:
    return np.divide(top, bottom, out=np.full(top.shape, NAN), where=usable)
