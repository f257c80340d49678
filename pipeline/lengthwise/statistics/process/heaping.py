"""Heaping of readings on whole and half millimetres, and preference for last digits."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from lengthwise.statistics.proportions import proportion
from lengthwise.statistics.results import NAN, Estimate, refused

IntArray = NDArray[np.int64]

DIGITS = 10
HALF_STEP_SHARE = 0.2
MINIMUM_READINGS = 10
SMALLEST_EXPECTED = 5
CHI_SQUARE = "chi-square test, 9 degrees of freedom"
SIMULATED = "multinomial test by {draws} simulated tables"


@dataclass(frozen=True, slots=True)
class Heaping:
    """Share of readings on 0.5 mm steps and counts of the tenths digit.

    Attributes
    ----------
    half_step : Estimate
        Share of readings on a multiple of 0.5 mm, 0-1, Wilson interval.
    expected_share : float
        0.2: two of ten tenths, when every tenth is equally likely.
    half_step_p : float
        Exact two-sided binomial p of the share against 0.2.
    digit_counts : tuple of int
        Readings by tenths digit 0 to 9.
    digit_statistic, digit_p : float
        Chi-square statistic against equal use, and its p by `digit_test`.
    """

    half_step: Estimate
    expected_share: float
    half_step_p: float
    digit_counts: tuple[int, ...]
    digit_statistic: float
    digit_p: float
    digit_test: str
    valid: bool = True
    reason: str = ""


def heaping(
    readings_mm: ArrayLike,
    *,
    minimum_readings: int = MINIMUM_READINGS,
    draws: int = 9999,
    seed: int = 0,
    level: float = 0.95,
) -> Heaping:
    """Look for readings rounded to half millimetres.

    Parameters
    ----------
    readings_mm : array_like of float, shape (n_readings,)
        Lengths in mm, rounded to 0.1 before they are counted. Missing ones are set aside.
    minimum_readings : int
        Fewer readings: refused.
    draws, seed : int
        Simulated tables and seed of the test used where an expected count is below 5 (fewer
        than 50 readings); otherwise the chi-square distribution serves.
    level : float
        Confidence level of the share, 0-1.

    Returns
    -------
    Heaping

    Raises
    ------
    ValueError
        When the readings are not one-dimensional.

    Notes
    -----
    Tests take the readings as independent and every tenth as equally likely without
    rounding; readings taken to 0.5 mm on purpose show the same picture.

    References
    ----------
    Preece DA. The Statistician 1981;30:31-60. doi:10.2307/2987702
    """
    values = np.asarray(readings_mm, dtype=float)
    if values.ndim != 1:
        raise ValueError("readings_mm must be one-dimensional")
    known = values[np.isfinite(values)]
    n_missing = values.size - known.size
    counts = tenths_counts(known)
    if known.size < minimum_readings:
        reason = f"{known.size} readings, fewer than {minimum_readings}"
        none = refused(
            reason, method="share on 0.5 mm steps", n_used=known.size, n_missing=n_missing
        )
        return Heaping(
            none, HALF_STEP_SHARE, NAN, tuple(counts.tolist()), NAN, NAN, "", False, reason
        )
    on_step = int(counts[0] + counts[5])
    exact = stats.binomtest(on_step, known.size, HALF_STEP_SHARE)
    statistic, p_value, name = _digit_test(counts, draws, seed)
    return Heaping(
        half_step=proportion(on_step, known.size, level=level, n_missing=n_missing),
        expected_share=HALF_STEP_SHARE,
        half_step_p=float(exact.pvalue),
        digit_counts=tuple(counts.tolist()),
        digit_statistic=statistic,
        digit_p=p_value,
        digit_test=name,
    )


def tenths_counts(readings_mm: ArrayLike) -> IntArray:
    """Return how many readings have each tenths digit 0 to 9, after rounding to 0.1 mm."""
    tenths = np.rint(np.abs(np.asarray(readings_mm, dtype=float)) * 10).astype(np.int64)
    return np.bincount(tenths % DIGITS, minlength=DIGITS).astype(np.int64)


def _digit_test(counts: IntArray, draws: int, seed: int) -> tuple[float, float, str]:
    expected = counts.sum() / DIGITS
    statistic = float(((counts - expected) ** 2).sum() / expected)
    if expected >= SMALLEST_EXPECTED:
        return statistic, float(stats.chi2.sf(statistic, DIGITS - 1)), CHI_SQUARE
    tables = np.random.default_rng(seed).multinomial(counts.sum(), [1 / DIGITS] * DIGITS, draws)
    simulated = ((tables - expected) ** 2).sum(axis=1) / expected
    # Equal tables must count as equal: sums of squares of tenths carry rounding noise.
    as_extreme = int((simulated >= statistic - 1e-9).sum())
    return statistic, (as_extreme + 1) / (draws + 1), SIMULATED.format(draws=draws)
