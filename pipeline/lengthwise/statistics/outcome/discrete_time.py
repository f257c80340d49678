"""Time to an event in periods between reviews, as a binary regression."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit

from lengthwise.statistics.outcome.arrays import Array, Index
from lengthwise.statistics.outcome.model_fit import ModelFit
from lengthwise.statistics.outcome.regression import fit_regression


@dataclass(frozen=True, slots=True, eq=False)
class PersonPeriods:
    """One row for each unit and period at risk.

    Attributes
    ----------
    unit, period : array of shape (rows,)
        Row of the input, and period from 1.
    event : array of shape (rows,)
        1 in the period of the event.
    n_missing : int
    """

    unit: Index
    period: Index
    event: Array
    n_missing: int


def person_periods(
    time: ArrayLike, event: ArrayLike, *, period_length: float, n_periods: int
) -> PersonPeriods:
    """Split each unit's time into periods (0, L], (L, 2L], ...

    Parameters
    ----------
    time, event : array of shape (n,)
        As for `kaplan_meier`.
    period_length : float
        L, in the unit of time.
    n_periods : int
        Later time is cut off: units still at risk are censored there.

    Notes
    -----
    A period in which a unit was censored before its end is not counted, since it was not at
    risk for the whole of it. An event at time 0 falls into the first period.
    """
    if period_length <= 0 or n_periods < 1:
        raise ValueError("period_length must be above 0 and n_periods at least 1")
    t, d = np.asarray(time, dtype=float), np.asarray(event, dtype=float)
    known = np.isfinite(t) & np.isfinite(d)
    unit = np.flatnonzero(known)
    t, d = t[known], d[known]
    event_period = np.maximum(np.ceil(t / period_length), 1.0)
    complete = np.floor(t / period_length)
    counted = np.minimum(np.where(d == 1.0, event_period, complete), n_periods).astype(int)
    ended_here = (d == 1.0) & (event_period <= n_periods)
    first = np.cumsum(counted) - counted
    period = np.arange(int(counted.sum())) - np.repeat(first, counted) + 1
    last = period == np.repeat(counted, counted)
    happened = last & np.repeat(ended_here, counted)
    missing = int(np.count_nonzero(~known))
    return PersonPeriods(np.repeat(unit, counted), period, happened.astype(float), missing)


def period_indicators(period: ArrayLike) -> tuple[Array, tuple[str, ...]]:
    """Return one column for each period that occurs, and the names of the columns."""
    values = np.asarray(period)
    found = np.unique(values)
    columns = (values[:, None] == found[None, :]).astype(float)
    return columns, tuple(f"period {value:g}" for value in found)


def fit_discrete_time(
    event: ArrayLike,
    period: ArrayLike,
    covariates: ArrayLike | None = None,
    *,
    terms: Sequence[str] = (),
    link: str = "logit",
    cluster: ArrayLike | None = None,
    level: float = 0.95,
) -> ModelFit:
    """Fit the hazard of each period: a baseline for each, and covariates on the link.

    Parameters
    ----------
    event, period : array of shape (rows,)
        As from `person_periods`.
    covariates : array of shape (rows, q), optional
        Repeated for each period of a unit.
    terms : sequence of str
        Names of the q covariates.
    link : str
        "logit" (odds ratios of the hazard) or "cloglog" (hazard ratios).
    cluster : array of shape (rows,), optional
        Patient of each row: covariance with factor G/(G-1). Model-based where None.

    Returns
    -------
    ModelFit
        Terms: one a period, then the covariates. Not valid where a period has no event, or
        an event in every row, since its baseline is then infinite.

    Notes
    -----
    Source: Singer & Willett 1993, 10.3102/10769986018002155; cloglog Prentice & Gloeckler
    1978, 10.2307/2529588.
    """
    if link not in ("logit", "cloglog"):
        raise ValueError("link must be 'logit' or 'cloglog'")
    columns, names = period_indicators(period)
    if covariates is not None:
        extra = np.asarray(covariates, dtype=float).reshape(columns.shape[0], -1)
        columns = np.hstack([columns, extra])
    return fit_regression(
        event,
        columns,
        terms=(*names, *terms),
        family="binomial" if link == "logit" else "cloglog",
        cluster=cluster,
        level=level,
    )


def predicted_survival(fit: ModelFit, covariates: Sequence[float] = ()) -> tuple[float, ...]:
    """Return survival to the end of each period at the given covariates.

    The product of 1 - hazard; empty where the fit is not valid.
    """
    if not fit.valid:
        return ()
    n_periods = len(fit.terms) - len(covariates)
    shift = float(np.dot(fit.vector()[n_periods:], np.asarray(covariates, dtype=float)))
    predictor = fit.vector()[:n_periods] + shift
    hazard = -np.expm1(-np.exp(predictor)) if fit.link == "cloglog" else expit(predictor)
    return tuple(float(value) for value in np.cumprod(1.0 - hazard))
