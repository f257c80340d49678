"""Three intervals of clustered limits: patient jackknife, MOVER, bootstrap of whole patients.

All three need only sums by patient. How often each holds the truth, over cluster sizes,
likeness within patients, numbers of patients and skew, is what tests/coverage prints.
"""

from dataclasses import dataclass

import numpy as np

from lengthwise.statistics.agreement.mover import (
    limit_distances,
    related_distance,
    variance_interval,
)
from lengthwise.statistics.agreement.nested import (
    Level,
    MeanSquares,
    NestedRows,
    component_values,
    mean_squares_of,
    patient_sums,
    total_weights,
)
from lengthwise.statistics.clusters import FloatArray
from lengthwise.statistics.resampling import (
    Statistic,
    bca_bounds,
    cluster_bootstrap,
    cluster_jackknife,
    log_jackknife_bounds,
)
from lengthwise.statistics.results import Estimate

Bounds = list[tuple[float, float]]
# An own choice: a mean square on fewer degrees of freedom makes MOVER far too wide.
FEWEST_DEGREES = 20


@dataclass(frozen=True, slots=True)
class IntervalOptions:
    """What the three intervals share: `multiplier` of the SD, `level`, and of the bootstrap
    the number of `draws` and the `seed`."""

    multiplier: float
    level: float
    draws: int
    seed: int


def jackknife_bounds(
    rows: NestedRows,
    total: float,
    bias: Estimate,
    options: IntervalOptions,
) -> Bounds:
    """Return bounds of the total SD, the lower and the upper limit by leaving patients out.

    The log SD gets a t interval with its jackknife error; bias and SD join by variance
    recovery with the correlation that leaving patients out shows, so neither normal parts nor
    equal canals are asked for. Degrees of freedom follow from how unevenly patients weigh on
    the SD. Sources: Miller RG. Ann Math Stat 1968;39:567-582, doi:10.1214/aoms/1177698418;
    Zou GY. Psychol Methods 2007;12:399-413, doi:10.1037/1082-989X.12.4.399.
    """
    sums, statistic = sums_and_statistic(rows)
    left_out = cluster_jackknife(sums, statistic)
    centre, half = np.array(bias.estimate), np.array((bias.upper - bias.lower) / 2)
    found = bounds_of_left_out(left_out, centre, np.sqrt(np.array(total)), half, options)
    return [(float(one[0]), float(one[1])) for one in found]


def bounds_of_left_out(
    left_out: FloatArray,
    centre: FloatArray,
    sd: FloatArray,
    half: FloatArray,
    options: IntervalOptions,
) -> FloatArray:
    """Return bounds (..., 3, 2) of SD and limits; `left_out` (..., G, 2) holds mean and SD.

    `half` is the half-width of the bias interval. Leading axes hold many data sets at once.
    """
    moves = left_out - left_out.mean(axis=-2, keepdims=True)
    squares = (moves**2).sum(axis=-2)
    scale = np.sqrt(squares[..., 0] * squares[..., 1])
    crossed = (moves[..., 0] * moves[..., 1]).sum(axis=-1)
    likeness = np.where(scale > 0, crossed / np.where(scale > 0, scale, 1.0), 0.0)
    lower, upper = log_jackknife_bounds(sd, left_out[..., 1], level=options.level)
    k = options.multiplier
    inward, outward = k * (sd - lower), k * (upper - sd)
    low, high = centre - k * sd, centre + k * sd
    ends = (
        (lower, upper),
        (
            low - related_distance(half, outward, -likeness),
            low + related_distance(half, inward, -likeness),
        ),
        (
            high - related_distance(half, inward, likeness),
            high + related_distance(half, outward, likeness),
        ),
    )
    return np.stack([np.stack(pair, axis=-1) for pair in ends], axis=-2)


def sums_and_statistic(rows: NestedRows) -> tuple[FloatArray, Statistic]:
    """Return sums by patient and the function from sums to bias and total SD (..., 2)."""
    work = rows.work
    if work is None:
        return _independent_sums(rows)
    n_components = len(work.names)

    def statistic(sums: FloatArray) -> FloatArray:
        found = mean_squares_of(sums, n_components)
        return np.stack([found.row_mean + work.centre, _total_sd(found)], axis=-1)

    return work.sums, statistic


def _independent_sums(rows: NestedRows) -> tuple[FloatArray, Statistic]:
    """Return the same for one canal per patient: sums of 1, x, x squared."""
    centre, count = float(rows.values.mean()), rows.n_patients
    own = np.bincount(rows.patient, weights=rows.values - centre, minlength=count)
    sums = np.column_stack([np.ones(count), own, own**2])

    def statistic(totals: FloatArray) -> FloatArray:
        n, total, squares = (totals[..., i] for i in range(3))
        variance = np.maximum(squares - total**2 / n, 0.0) / (n - 1)
        return np.stack([centre + total / n, np.sqrt(variance)], axis=-1)

    return sums, statistic


def _total_sd(found: MeanSquares) -> FloatArray:
    return np.sqrt(np.maximum(component_values(found).sum(axis=-1), 0.0))


def mover_bounds(
    rows: NestedRows,
    total: float,
    bias: Estimate,
    options: IntervalOptions,
) -> Bounds:
    """Return the same bounds by MOVER, which takes every part as normal.

    A level that hardly any rows can tell apart is merged into the one outside it first: its
    few degrees of freedom would make the interval several times too wide.
    """
    kept = merged_levels(rows.kept, len(rows.values))
    if kept:
        work = patient_sums(rows.values, kept)
        found = mean_squares_of(work.sums.sum(axis=0), len(work.names))
        squares, weights, freedom = found.mean_squares, total_weights(found), found.freedom
    else:
        squares, weights = np.array([total]), np.ones(1)
        freedom = np.array([len(rows.values) - 1.0])
    interval = variance_interval(squares, weights, freedom, level=options.level)
    if interval.variance > 0 and total > 0:
        ratio = total / interval.variance
        interval = type(interval)(total, interval.lower * ratio, interval.upper * ratio)
    half = (bias.upper - bias.lower) / 2
    inward, outward = limit_distances(interval, half, options.multiplier)
    reach = options.multiplier * float(np.sqrt(total))
    low, high = bias.estimate - reach, bias.estimate + reach
    spread = (float(np.sqrt(interval.lower)), float(np.sqrt(interval.upper)))
    return [spread, (low - outward, low + inward), (high - inward, high + outward)]


def merged_levels(kept: list[Level], n_rows: int) -> list[Level]:
    """Return the levels whose groups repeat often enough inside the level outside them."""
    merged: list[Level] = []
    for one in kept:
        if not merged or one[2] - merged[-1][2] >= FEWEST_DEGREES:
            merged.append(one)
    while merged and n_rows - merged[-1][2] < FEWEST_DEGREES:
        merged.pop()
    return merged


def bootstrap_bounds(
    rows: NestedRows,
    total: float,
    bias: Estimate,
    options: IntervalOptions,
) -> Bounds:
    """Return the same bounds by resampling whole patients, bias-corrected and accelerated."""
    sums, two = sums_and_statistic(rows)
    k = options.multiplier

    def statistic(totals: FloatArray) -> FloatArray:
        found = two(totals)
        centre, sd = found[..., 0], found[..., 1]
        return np.stack([sd, centre - k * sd, centre + k * sd], axis=-1)

    estimate = statistic(sums.sum(axis=0))
    left_out = cluster_jackknife(sums, statistic)
    found = cluster_bootstrap(sums, statistic, draws=options.draws, seed=options.seed)
    low, high = bca_bounds(estimate, found, left_out, level=options.level)
    return [(float(a), float(b)) for a, b in zip(low, high, strict=True)]
