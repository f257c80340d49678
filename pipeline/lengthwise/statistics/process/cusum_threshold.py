"""Thresholds of the risk-adjusted CUSUM by simulation for a stated run length."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lengthwise.statistics.process.control_chart import FloatArray
from lengthwise.statistics.process.cusum import (
    RunLength,
    cusum_weights,
    refused_run_length,
)

GRID_STEP = 0.01
LARGEST_THRESHOLD = 12.0
LONGEST_IN_MEANS = 12
MINIMUM_RISKS = 10


def cusum_threshold(
    risk: ArrayLike,
    *,
    run_length: float,
    odds_ratio: float,
    runs: int = 4000,
    seed: int,
) -> RunLength:
    """Find the smallest threshold (to 0.01) whose mean run length reaches the wanted one.

    Parameters
    ----------
    risk : array_like of float, shape (n_cases,)
        Expected risks of this practice's own cases; the simulation draws from them.
    run_length : float
        Wanted mean number of cases between false signals, at least 10.
    odds_ratio : float
        Change looked for.
    runs : int
        Simulated series.
    seed : int
        Makes the result repeatable.

    Returns
    -------
    RunLength
        Not valid with fewer than 10 known risks.

    Raises
    ------
    ValueError
        When `run_length` is below 10 or a risk is not inside 0..1.

    Notes
    -----
    All thresholds are read off one set of series: the running maximum of the score passes a
    threshold at the first signal. A change in case-mix changes the rate of false signals.

    References
    ----------
    Steiner SH and others. Biostatistics 2000;1:441-452.
    doi:10.1093/biostatistics/1.4.441
    """
    if run_length < 10:
        raise ValueError("run_length must be at least 10 cases")
    known = _known(risk)
    if known.size < MINIMUM_RISKS:
        reason = f"{known.size} cases with a known risk, fewer than {MINIMUM_RISKS}"
        return refused_run_length(reason, runs=runs, seed=seed)
    steps = int(LONGEST_IN_MEANS * run_length)
    means = _mean_by_threshold(known, odds_ratio, steps, runs, np.random.default_rng(seed))
    reached = np.flatnonzero(means >= run_length)
    if reached.size == 0:
        return refused_run_length(
            "no threshold reaches this run length: ask for a shorter one", runs=runs, seed=seed
        )
    threshold = float(round(reached[0] * GRID_STEP, 2))
    return simulated_run_length(
        known, threshold=threshold, odds_ratio=odds_ratio, runs=runs, seed=seed
    )


def simulated_run_length(
    risk: ArrayLike,
    *,
    threshold: float,
    odds_ratio: float,
    runs: int = 4000,
    seed: int,
    longest: int = 100_000,
) -> RunLength:
    """Simulate the cases until a signal, unchanged and after the change looked for.

    Parameters
    ----------
    risk : array_like of float, shape (n_cases,)
        Risks to draw from, strictly inside 0..1; missing ones are left out.
    threshold, odds_ratio : float
        As in `risk_adjusted_cusum`.
    runs, seed : int
        Number of series and seed.
    longest : int
        Cases after which a series is given up; any such series makes the result not valid.

    Returns
    -------
    RunLength

    Raises
    ------
    ValueError
        When a risk is not inside 0..1.
    """
    known = _known(risk)
    if known.size == 0:
        return refused_run_length("no risk is known", runs=runs, seed=seed)
    rng = np.random.default_rng(seed)
    usual = _first_signals(known, threshold, odds_ratio, 1.0, runs, longest, rng)
    changed = _first_signals(known, threshold, odds_ratio, odds_ratio, runs, longest, rng)
    if min(usual.min(), changed.min()) == 0:
        reason = f"some series gave no signal within {longest} cases"
        return refused_run_length(reason, runs=runs, seed=seed)
    return RunLength(
        threshold=threshold,
        mean=float(usual.mean()),
        median=float(np.median(usual)),
        mean_after_change=float(changed.mean()),
        mean_error=float(usual.std(ddof=1) / np.sqrt(runs)),
        runs=runs,
        seed=seed,
    )


def _known(risk: ArrayLike) -> FloatArray:
    values = np.asarray(risk, dtype=float)
    return values[np.isfinite(values)]


def _step(
    score: FloatArray, risk: FloatArray, weights: tuple[FloatArray, FloatArray],
    true_odds_ratio: float, rng: np.random.Generator,
) -> FloatArray:  # fmt: skip
    drawn = rng.integers(risk.size, size=score.size)
    p = risk[drawn]
    happened = rng.random(score.size) < true_odds_ratio * p / (1 - p + true_odds_ratio * p)
    weight = np.where(happened, weights[0][drawn], weights[1][drawn])
    return np.maximum(score + weight, 0.0)


def _first_signals(
    risk: FloatArray, threshold: float, odds_ratio: float, true_odds_ratio: float,
    runs: int, longest: int, rng: np.random.Generator,
) -> NDArray[np.int64]:  # fmt: skip
    """Return the case of the first signal of each series; 0 where none came."""
    weights = cusum_weights(risk, odds_ratio)
    signal = np.zeros(runs, dtype=np.int64)
    running, score = np.arange(runs), np.zeros(runs)
    for case in range(1, longest + 1):
        score = _step(score, risk, weights, true_odds_ratio, rng)
        above = score > threshold
        if above.any():
            signal[running[above]] = case
            running, score = running[~above], score[~above]
        if running.size == 0:
            break
    return signal


def _mean_by_threshold(
    risk: FloatArray, odds_ratio: float, steps: int, runs: int, rng: np.random.Generator
) -> FloatArray:
    """Return the mean run length at thresholds 0, 0.01, ... from one set of series.

    The mean is the sum over t of P(no signal by t), and no signal by t means that the
    running maximum is not above the threshold.
    """
    weights = cusum_weights(risk, odds_ratio)
    size = round(LARGEST_THRESHOLD / GRID_STEP) + 1
    waiting = np.zeros(size)
    score, highest = np.zeros(runs), np.zeros(runs)
    for _ in range(steps):
        score = _step(score, risk, weights, 1.0, rng)
        highest = np.maximum(highest, score)
        cell = np.minimum(np.ceil(highest / GRID_STEP - 1e-9), size - 1).astype(np.int64)
        waiting += np.cumsum(np.bincount(cell, minlength=size)) / runs
    # Series cut off at the last step make a mean too short, but only where it is a twelfth
    # of the steps or more, and there the wanted length is passed already.
    return np.asarray(1.0 + waiting)
