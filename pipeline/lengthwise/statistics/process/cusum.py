"""Private risk-adjusted CUSUM and VLAD for process measures."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.process.control_chart import FloatArray
from lengthwise.statistics.results import NAN

METHOD = "risk-adjusted CUSUM (Steiner 2000)"


@dataclass(frozen=True, slots=True)
class CusumChart:
    """Path of the score and of the VLAD, in the order of the cases.

    Attributes
    ----------
    score : tuple of float
        max(0, previous + weight), never reset; one entry for each case used.
    vlad : tuple of float
        Running expected minus observed: a display, it makes no signals.
    threshold : float
    first_signal : int or None
        Position (from 0, among the cases used) of the first score above the threshold.
    """

    score: tuple[float, ...]
    vlad: tuple[float, ...]
    odds_ratio: float
    threshold: float
    first_signal: int | None
    n_used: int
    n_missing: int
    method: str = METHOD
    valid: bool = True
    reason: str = ""


def cusum_weights(
    risk: ArrayLike, odds_ratio: float, *, baseline_odds_ratio: float = 1.0
) -> tuple[FloatArray, FloatArray]:
    """Return the weights of an event and of no event at each risk.

    Event: log[(1 - p + R0 p) R / ((1 - p + R p) R0)]; no event: the same without R / R0.

    Parameters
    ----------
    risk : array_like of float, shape (n_cases,)
        Expected risk p of the event, strictly inside 0..1.
    odds_ratio : float
        R, the change looked for: 2 for doubled odds, 0.5 for halved odds.
    baseline_odds_ratio : float
        R0, the odds taken as usual.

    Returns
    -------
    tuple of ndarray of shape (n_cases,)
        Log-likelihood ratios, positive towards the change.

    Raises
    ------
    ValueError
        When a risk is not inside 0..1 or an odds ratio is not positive.

    References
    ----------
    Steiner SH and others. Biostatistics 2000;1:441-452.
    doi:10.1093/biostatistics/1.4.441
    """
    p = np.asarray(risk, dtype=float)
    if np.any(~((p > 0) & (p < 1))):
        raise ValueError("risk must lie strictly between 0 and 1")
    if odds_ratio <= 0 or baseline_odds_ratio <= 0:
        raise ValueError("odds ratios must be positive")
    no_event = np.log((1 - p + baseline_odds_ratio * p) / (1 - p + odds_ratio * p))
    return no_event + np.log(odds_ratio / baseline_odds_ratio), no_event


def risk_adjusted_cusum(
    outcome: ArrayLike, risk: ArrayLike, *, odds_ratio: float, threshold: float
) -> CusumChart:
    """Follow the score over cases in the order of time.

    Parameters
    ----------
    outcome : array_like of 0, 1 or NaN, shape (n_cases,)
        The event of the process measure (for example a fill beyond the foramen). Outcomes
        that arrive months later do not belong here.
    risk : array_like of float, shape (n_cases,)
        Expected risk, strictly inside 0..1. Cases with a missing outcome or risk are set
        aside and counted.
    odds_ratio : float
        Change looked for. Improvement has its own chart with an odds ratio below 1.
    threshold : float
        From `cusum_threshold`; a score strictly above it is a signal.

    Returns
    -------
    CusumChart

    Raises
    ------
    ValueError
        When shapes differ, an outcome is not 0 or 1, or the threshold is not positive.

    Notes
    -----
    Every such chart signals sooner or later even when nothing has changed.

    References
    ----------
    Steiner SH and others. Biostatistics 2000;1:441-452.
    doi:10.1093/biostatistics/1.4.441
    """
    event, p = np.asarray(outcome, dtype=float), np.asarray(risk, dtype=float)
    if event.ndim != 1 or event.shape != p.shape:
        raise ValueError("outcome and risk must have one common length")
    if threshold <= 0:
        raise ValueError("threshold must be positive")
    kept = np.isfinite(event) & np.isfinite(p)
    event, p = event[kept], p[kept]
    if np.any((event != 0) & (event != 1)):
        raise ValueError("outcome must be 0 or 1")
    n_missing = int((~kept).sum())
    if event.size == 0:
        return CusumChart(
            (), (), odds_ratio, threshold, None, 0, n_missing, METHOD, False,
            "there are no cases",
        )  # fmt: skip
    with_event, without = cusum_weights(p, odds_ratio)
    score = reflected_sum(np.where(event == 1, with_event, without))
    above = np.flatnonzero(score > threshold)
    return CusumChart(
        score=tuple(score.tolist()),
        vlad=tuple(np.cumsum(p - event).tolist()),
        odds_ratio=odds_ratio,
        threshold=threshold,
        first_signal=int(above[0]) if above.size else None,
        n_used=event.size,
        n_missing=n_missing,
    )


def reflected_sum(weights: FloatArray) -> FloatArray:
    """Return S_t = max(0, S_(t-1) + W_t) from S_0 = 0, without a loop."""
    total = np.cumsum(weights)
    return total - np.minimum(np.minimum.accumulate(total), 0.0)


@dataclass(frozen=True, slots=True)
class RunLength:
    """Cases until a signal, by simulation.

    Attributes
    ----------
    threshold : float
    mean, median : float
        Cases to the first signal when nothing has changed. The median is well below the
        mean: half of the false signals come before it.
    mean_after_change : float
        The same when the odds have changed as looked for from the first case.
    mean_error : float
        Simulation error (one standard error) of `mean`.
    """

    threshold: float
    mean: float
    median: float
    mean_after_change: float
    mean_error: float
    runs: int
    seed: int
    method: str = "simulated run length of the risk-adjusted CUSUM"
    valid: bool = True
    reason: str = ""


def refused_run_length(reason: str, *, runs: int, seed: int) -> RunLength:
    """Return the result that stands where no threshold can be given."""
    return RunLength(NAN, NAN, NAN, NAN, NAN, runs, seed, valid=False, reason=reason)
