"""Empirical-Bayes shrinkage on the log-odds scale: a random intercept by unit."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from lengthwise.statistics.process.control_chart import FloatArray
from lengthwise.statistics.process.funnel import checked_units
from lengthwise.statistics.process.shrinkage_beta import ALL_OR_NOTHING, NO_VARIATION
from lengthwise.statistics.process.unit_likelihood import UnitRows, integrated, unit_rows
from lengthwise.statistics.results import NAN

METHOD = "empirical Bayes, random intercept on log odds (25-point adaptive Gauss-Hermite)"
SMALLEST_SD = 1e-3


@dataclass(frozen=True, slots=True)
class LogitNormalFit:
    """Between-unit distribution on the log-odds scale and each unit's place in it.

    Attributes
    ----------
    mean, standard_deviation : float
        Of the unit effects, log odds.
    log_likelihood : float
        With binomial constants.
    units : tuple of str
        Codes in sorted order; the tuples below follow it.
    effect, effect_error : tuple of float
        Conditional mode of each unit's departure from the mean, and 1 / sqrt(curvature).
    odds_ratio : tuple of float
        exp(effect): shrunken odds against the average unit.
    share_at_mode, share_mean : tuple of float
        Shrunken share at the mode, and averaged over the posterior; without an offset.
    reliability : tuple of float
        s^2 / (s^2 + 1 / (n p (1 - p))) with p the share of the average unit.
    """

    mean: float
    standard_deviation: float
    log_likelihood: float
    units: tuple[str, ...]
    effect: tuple[float, ...]
    effect_error: tuple[float, ...]
    odds_ratio: tuple[float, ...]
    share_at_mode: tuple[float, ...]
    share_mean: tuple[float, ...]
    reliability: tuple[float, ...]
    n_used: int
    n_missing: int
    method: str = METHOD
    valid: bool = True
    reason: str = ""


def logit_normal_shrinkage(
    events: ArrayLike,
    cases: ArrayLike,
    unit: ArrayLike,
    *,
    offset: ArrayLike | None = None,
    minimum_units: int = 5,
) -> LogitNormalFit:
    """Fit events ~ Binomial(cases, expit(mean + u + offset)), u ~ N(0, s^2) by unit.

    Parameters
    ----------
    events, cases : array_like of int, shape (n_rows,)
        Counts; one row a unit, or one row a case with `cases` 1. Rows without cases are set
        aside.
    unit : array_like of shape (n_rows,)
        Code of the unit of each row.
    offset : array_like of float, shape (n_rows,), optional
        Log odds expected from case-mix, from a model without unit terms.
    minimum_units : int
        Fewer units: refused.

    Returns
    -------
    LogitNormalFit
        With an offset the shares are those of a case whose offset is 0.

    Raises
    ------
    ValueError
        When shapes differ or counts are impossible.

    Notes
    -----
    Maximum likelihood. Assumes exchangeable units with normal effects and independent cases
    within a unit. The conditional errors take mean and s as known.

    References
    ----------
    Normand SLT, Glickman ME, Gatsonis CA. J Am Stat Assoc 1997;92:803-814.
    doi:10.1080/01621459.1997.10474036
    Adams JL. The reliability of provider profiling. RAND TR-653, 2009.
    """
    event, case = checked_units(events, cases)
    rows, n_missing = unit_rows(event, case, unit, offset)
    reason = _refusal(rows, minimum_units)
    if reason:
        return _empty(reason, rows, n_missing)
    mean, spread, value, reason = _maximum(rows)
    if not np.isfinite(value):
        return _empty(reason, rows, n_missing)
    post = integrated(rows, mean, spread)
    total = np.add.reduceat(rows.cases, rows.starts)
    average = float(special.expit(mean))
    information = total * average * (1 - average)
    return LogitNormalFit(
        mean=mean,
        standard_deviation=spread,
        log_likelihood=value,
        units=rows.units,
        effect=tuple(post.mode.tolist()),
        effect_error=tuple(post.mode_error.tolist()),
        odds_ratio=tuple(np.exp(post.mode).tolist()),
        share_at_mode=tuple(special.expit(mean + post.mode).tolist()),
        share_mean=tuple(post.average(lambda u: special.expit(mean + u)).tolist()),
        reliability=tuple((spread**2 / (spread**2 + 1 / information)).tolist()),
        n_used=int(rows.cases.sum()),
        n_missing=n_missing,
        reason=reason,
    )


def _refusal(rows: UnitRows, minimum: int) -> str:
    if len(rows.units) < minimum:
        return f"{len(rows.units)} units with cases, fewer than {minimum}: no shrinkage"
    if rows.events.sum() in (0, rows.cases.sum()):
        found = "no event" if rows.events.sum() == 0 else "nothing but events"
        return f"{found} in {int(rows.cases.sum())} cases: variation between units is unknown"
    total = np.add.reduceat(rows.cases, rows.starts)
    if total.max() < 2:
        return "every unit has one case: variation between units cannot be told from chance"
    events = np.add.reduceat(rows.events, rows.starts)
    if np.all((events == 0) | (events == total)):
        return ALL_OR_NOTHING
    return ""


def _empty(reason: str, rows: UnitRows, n_missing: int) -> LogitNormalFit:
    return LogitNormalFit(
        NAN, NAN, NAN, rows.units, (), (), (), (), (), (), int(rows.cases.sum()), n_missing,
        valid=False, reason=reason,
    )  # fmt: skip


def _maximum(rows: UnitRows) -> tuple[float, float, float, str]:
    plain_mean = _mean_without_spread(rows)
    plain = integrated(rows, plain_mean, 0.0).log_likelihood
    found = optimize.minimize(
        _negative, np.array([plain_mean, np.log(0.5)]), args=(rows,), jac=True,
        method="TNC", bounds=[(-30, 30), (np.log(SMALLEST_SD), np.log(20))],
        options={"ftol": 1e-15, "gtol": 1e-9, "xtol": 1e-12, "maxfun": 500},
    )  # fmt: skip
    sharp = optimize.root(lambda point: _negative(point, rows)[1], found.x, tol=1e-12)
    near = np.abs(sharp.x - found.x).max() < 1e-2
    point = sharp.x if sharp.success and near else found.x
    value, slope = _negative(point, rows)
    if point[1] < np.log(SMALLEST_SD) + 0.1 or -value <= plain + 1e-9:
        return plain_mean, 0.0, plain, NO_VARIATION
    if np.abs(slope).max() > 1e-3:
        return NAN, NAN, NAN, "the fit of the variation between units did not converge"
    return float(point[0]), float(np.exp(point[1])), -value, ""


def _negative(point: FloatArray, rows: UnitRows) -> tuple[float, FloatArray]:
    mean, spread = float(point[0]), float(np.exp(point[1]))
    post = integrated(rows, mean, spread)
    # Fisher's identity: the score is the posterior mean of the complete-data score. The
    # score of the mean equals the posterior mean of u / s^2, since u is at its own optimum.
    by_mean = post.average(lambda u: u).sum() / spread**2
    by_spread = post.average(lambda u: u**2 / spread**2 - 1).sum()
    return -post.log_likelihood, -np.array([by_mean, by_spread])


def _mean_without_spread(rows: UnitRows) -> float:
    def excess(mean: float) -> float:
        return float((rows.events - rows.cases * special.expit(mean + rows.offset)).sum())

    return float(optimize.brentq(excess, -40.0, 40.0, xtol=1e-13))
