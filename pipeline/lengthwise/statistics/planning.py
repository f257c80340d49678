"""How many cases an audit needs, and how many it can expect by a date."""

import math
from bisect import bisect_left
from collections.abc import Callable
from datetime import date

from scipy import stats

from lengthwise.statistics.results import Estimate, refused

FORMULAE = ("1986", "1999", "t")
LIMIT_FACTOR = 1.96
LARGEST_SAMPLE = 10_000_000


def limit_half_width(
    sd_mm: float,
    cases: int,
    *,
    formula: str = "t",
    factor: float = LIMIT_FACTOR,
    level: float = 0.95,
) -> float:
    """Half width (mm) of the interval of a limit of agreement with this many pairs.

    The closed forms keep the papers' rounded 1.96 at a level of 0.95.

    Parameters
    ----------
    sd_mm : float
        Expected SD of the differences.
    cases : int
        Independent pairs, at least 2.
    formula : {"1986", "1999", "t"}
        Variance of a limit 3 s^2 / n (1986) or s^2 (1/n) (1 + k^2/2) (1999), both with the
        normal quantile; "t" has s^2 (1/n + k^2 / (2 (n - 1))) with t on n - 1.
    factor : float
        k, the SDs a limit lies from the bias.
    level : float
        Confidence level, 0-1.

    Raises
    ------
    ValueError
        When an argument is out of range or the formula is unknown.

    References
    ----------
    Bland JM, Altman DG. Lancet 1986;327:307-310. doi:10.1016/S0140-6736(86)90837-8
    Bland JM, Altman DG. Stat Methods Med Res 1999;8:135-160.
    doi:10.1177/096228029900800204
    """
    _check_lengths(sd_mm, formula)
    if cases < 2:
        raise ValueError("cases must be at least 2")
    if formula == "t":
        variance = 1 / cases + factor**2 / (2 * (cases - 1))
        quantile = float(stats.t.ppf(0.5 + level / 2, cases - 1))
    else:
        variance = _variance_factor(formula, factor) / cases
        quantile = _as_printed(level)
    return quantile * sd_mm * math.sqrt(variance)


def cases_for_limit(
    sd_mm: float,
    half_width_mm: float,
    *,
    formula: str = "t",
    factor: float = LIMIT_FACTOR,
    level: float = 0.95,
) -> float:
    """Pairs needed for a half width (mm) of a limit of agreement.

    Parameters and errors as in `limit_half_width`. The closed forms (1986, 1999) are
    unrounded: round up. "t" gives the smallest whole number that suffices. Patients with
    several canals need more: multiply by the design effect.
    """
    _check_lengths(sd_mm, formula)
    if half_width_mm <= 0:
        raise ValueError("half_width_mm must be positive")
    if formula == "t":
        return _smallest(
            lambda n: limit_half_width(sd_mm, n, factor=factor, level=level), half_width_mm
        )
    return (_as_printed(level) * sd_mm / half_width_mm) ** 2 * _variance_factor(formula, factor)


def cases_for_bias(sd_mm: float, half_width_mm: float, *, level: float = 0.95) -> int:
    """Smallest number of independent pairs whose t interval of the bias is narrow enough.

    Raises
    ------
    ValueError
        When an argument is not positive.

    References
    ----------
    Bland JM, Altman DG. Stat Methods Med Res 1999;8:135-160.
    doi:10.1177/096228029900800204
    """
    _check_lengths(sd_mm, "t")
    if half_width_mm <= 0:
        raise ValueError("half_width_mm must be positive")

    def half(n: int) -> float:
        return float(stats.t.ppf(0.5 + level / 2, n - 1)) * sd_mm / math.sqrt(n)

    return _smallest(half, half_width_mm)


def cases_for_proportion(
    share: float,
    half_width: float,
    *,
    population: int | None = None,
    design_effect: float = 1.0,
    quantile_squared: float | None = None,
    formula: str = "cochran",
    level: float = 0.95,
) -> float:
    """Cases needed for a half width of a proportion, unrounded: round up.

    Parameters
    ----------
    share, half_width : float
        Expected share and wanted half width, both inside 0..1.
    population : int, optional
        All eligible cases; the finite-population correction is applied after the design
        effect.
    design_effect : float
        1 + (mean cases a patient - 1) times the intraclass correlation; 1 when independent.
    quantile_squared : float, optional
        Replaces z squared, for tables printed with a rounded value.
    formula : {"cochran", "krejcie_morgan"}
        n0 / (1 + (n0 - 1) / N), or X2 N p q / (d^2 (N - 1) + X2 p q), which needs a
        population. They are the same formula with another quantile; a rounded quantile is
        given through `quantile_squared`.
    level : float
        Confidence level, 0-1.

    Raises
    ------
    ValueError
        When an argument is out of range or the formula is unknown.

    References
    ----------
    Cochran WG. Sampling Techniques, 3rd ed. 1977, chapter 4.
    Krejcie RV, Morgan DW. Educ Psychol Meas 1970;30:607-610.
    doi:10.1177/001316447003000308
    """
    if not (0 < share < 1 and 0 < half_width < 1) or design_effect <= 0:
        raise ValueError("share and half_width must lie inside 0..1, design_effect above 0")
    squared = _normal(level) ** 2 if quantile_squared is None else quantile_squared
    spread = squared * share * (1 - share)
    if formula == "krejcie_morgan":
        if population is None:
            raise ValueError("krejcie_morgan needs a population")
        return spread * population / (half_width**2 * (population - 1) + spread)
    if formula != "cochran":
        raise ValueError(f"unknown formula {formula!r}")
    infinite = spread / half_width**2 * design_effect
    return infinite if population is None else infinite / (1 + (infinite - 1) / population)


def cases_for_change(
    share_before: float,
    share_after: float,
    *,
    power: float = 0.8,
    design_effect: float = 1.0,
    continuity: bool = False,
    level: float = 0.95,
) -> float:
    """Cases needed in each of two equal periods to detect a change, unrounded: round up.

    Parameters
    ----------
    share_before, share_after : float
        Shares inside 0..1, different from each other.
    power : float
        Wanted chance of detecting the change, inside 0..1.
    design_effect : float
        Multiplies the cases, for several canals a patient.
    continuity : bool
        Fleiss's continuity correction, which exact tests come near to.
    level : float
        1 minus the two-sided significance level.

    Raises
    ------
    ValueError
        When an argument is out of range or the shares are equal.

    References
    ----------
    Fleiss JL, Levin B, Paik MC. Statistical Methods for Rates and Proportions, 3rd ed.
    2003, chapter 4. doi:10.1002/0471445428
    """
    gap = abs(share_after - share_before)
    if not (0 < share_before < 1 and 0 < share_after < 1 and 0 < power < 1) or gap == 0:
        raise ValueError("shares and power must lie inside 0..1 and the shares must differ")
    mean = (share_before + share_after) / 2
    own = share_before * (1 - share_before) + share_after * (1 - share_after)
    reach = _normal(level) * math.sqrt(2 * mean * (1 - mean))
    reach += float(stats.norm.ppf(power)) * math.sqrt(own)
    cases = (reach / gap) ** 2
    if continuity:
        cases *= (1 + math.sqrt(1 + 4 / (cases * gap))) ** 2 / 4
    return cases * design_effect


def expected_cases(
    cases_so_far: int, *, first_day: date, last_day: date, by: date, level: float = 0.95
) -> Estimate:
    """Cases the practice will have by a date if it goes on at its present rate.

    Parameters
    ----------
    cases_so_far : int
        Eligible cases from `first_day` to `last_day`, both included.
    first_day, last_day, by : date
        `by` lies after `last_day`.
    level : float
        Level of the prediction interval, 0-1.

    Returns
    -------
    Estimate
        Total by `by`; `lower` and `upper` are a prediction interval for that total. Refused
        below 28 days of record.

    Raises
    ------
    ValueError
        When the days are out of order or the count is negative.

    Notes
    -----
    Assumes cases at one constant rate, independent of each other (Poisson); seasons and a
    growing practice break it. Predictive law: negative binomial from Jeffreys' prior.

    References
    ----------
    Gelman A and others. Bayesian Data Analysis, 3rd ed. 2013, section 2.6.
    """
    past, ahead = (last_day - first_day).days + 1, (by - last_day).days
    if past < 1 or ahead < 1 or cases_so_far < 0:
        raise ValueError("first_day, last_day and by must follow each other, cases from 0")
    method = "present rate carried on; predictive interval (Poisson, Jeffreys' prior)"
    if past < 28:
        return refused(
            f"{past} days of record, fewer than 28: no rate yet", method=method,
            n_used=cases_so_far, level=level,
        )  # fmt: skip
    law = stats.nbinom(cases_so_far + 0.5, past / (past + ahead))
    low, high = law.ppf([(1 - level) / 2, (1 + level) / 2])
    total = cases_so_far * (past + ahead) / past
    return Estimate(
        total, cases_so_far + float(low), cases_so_far + float(high), level, cases_so_far, 0,
        method,
    )  # fmt: skip


def _variance_factor(formula: str, factor: float) -> float:
    return 3.0 if formula == "1986" else 1 + factor**2 / 2


def _as_printed(level: float) -> float:
    # The papers' own sample sizes rest on 1.96, and a plan should repeat them.
    return LIMIT_FACTOR if level == 0.95 else _normal(level)


def _normal(level: float) -> float:
    return float(stats.norm.ppf(0.5 + level / 2))


def _check_lengths(sd_mm: float, formula: str) -> None:
    if sd_mm <= 0:
        raise ValueError("sd_mm must be positive")
    if formula not in FORMULAE:
        raise ValueError(f"formula must be one of {FORMULAE}, got {formula!r}")


def _smallest(half_width_of: Callable[[int], float], wanted: float) -> int:
    """Return the smallest n whose half width, falling in n, is not above the wanted one."""
    high = 2
    while half_width_of(high) > wanted:
        high *= 2
        if high > LARGEST_SAMPLE:
            raise ValueError("no practical number of cases reaches this half width")
    return bisect_left(range(high + 1), True, lo=2, key=lambda n: half_width_of(n) <= wanted)
