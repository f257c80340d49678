"""Agreement of two or more readers, with gaps allowed: Fleiss, Gwet, Krippendorff (A9)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special, stats

from lengthwise.statistics.agreement.gwet_parts import (
    gwet_estimate,
    gwet_left_out,
    unit_agreement,
)
from lengthwise.statistics.agreement.pairs import MINIMUM_PAIRS, too_few
from lengthwise.statistics.clusters import FloatArray, IntArray, cluster_codes, cluster_sums
from lengthwise.statistics.resampling import (
    AGREE_EVERYWHERE,
    agreement_bounds,
    cluster_jackknife,
    jackknife_standard_error,
)
from lengthwise.statistics.results import NAN, Estimate, refused

METRICS = ("nominal", "ordinal", "interval", "ratio")
WEIGHTS = ("identity", "ordinal", "linear", "quadratic")
ONE_CATEGORY = "all readings are in one category, so agreement beyond chance is undefined"


def rating_counts(
    ratings: ArrayLike, categories: ArrayLike | None = None
) -> tuple[FloatArray, FloatArray]:
    """Return counts (n units, q categories) and the categories, from ratings (n, readers).

    Missing ratings are NaN; without `categories` the values that occur are used, in order.
    """
    table = np.asarray(ratings, dtype=float)
    if table.ndim != 2:
        raise ValueError("ratings must be (n, readers).")
    values = np.unique(table[np.isfinite(table)]) if categories is None else categories
    order = np.asarray(values, dtype=float)
    counts = (table[:, :, None] == order).sum(axis=1)
    return counts.astype(float), order


def category_weights(categories: FloatArray, weights: str) -> FloatArray:
    """Return agreement weights (q, q) between 0 and 1; "ordinal" uses ranks.

    Source: Gwet KL. Handbook of Inter-Rater Reliability. 4th ed. 2014, chapter 3.
    """
    if weights not in WEIGHTS:
        raise ValueError(f"weights must be one of {WEIGHTS}, got {weights!r}.")
    q = len(categories)
    if weights == "identity" or q < 2:
        return np.eye(q)
    if weights == "ordinal":
        steps = np.abs(np.subtract.outer(np.arange(q), np.arange(q)))
        return np.asarray(1 - special.comb(steps + 1, 2) / special.comb(q, 2), dtype=float)
    gaps = np.abs(np.subtract.outer(categories, categories))
    power = 1 if weights == "linear" else 2
    return np.asarray(1 - (gaps / gaps.max()) ** power, dtype=float)


@dataclass(frozen=True, slots=True)
class FleissKappa:
    """Fleiss' kappa; errors are those under chance agreement alone, so no interval."""

    kappa: Estimate
    raw_agreement: float
    chance_agreement: float
    standard_error_null: float
    z: float
    by_category: FloatArray


def fleiss_kappa(
    counts: ArrayLike,
    *,
    frequency: ArrayLike | None = None,
    minimum_units: int = MINIMUM_PAIRS,
) -> FleissKappa:
    """Return Fleiss' kappa from counts (n, q) of readings by category.

    `frequency` (n,) says how often a row occurs. Units read a different number of times are
    allowed: shares are averaged over units, and there is then no error and no kappa by
    category (NaN). Sources: Fleiss JL. Psychol Bull 1971;76:378-382, doi:10.1037/h0031619;
    error: Fleiss JL, Nee JC, Landis JR. Psychol Bull 1979;86:974-977,
    doi:10.1037/0033-2909.86.5.974.
    """
    table = np.asarray(counts, dtype=float)
    weight = np.ones(len(table)) if frequency is None else np.asarray(frequency, dtype=float)
    readers = table.sum(axis=1)
    table, weight, readers = table[readers > 0], weight[readers > 0], readers[readers > 0]
    twice = readers >= 2
    name, n = "Fleiss' kappa; no interval", float(weight.sum())
    reason = too_few(int(weight @ twice), max(minimum_units, 1), what="units read twice")
    if not reason and np.count_nonzero(table.sum(axis=0)) < 2:
        reason = ONE_CATEGORY
    if reason:
        none = refused(reason, method=name, n_used=int(n))
        return FleissKappa(none, NAN, NAN, NAN, NAN, np.full(table.shape[1], NAN))
    p = weight @ (table / readers[:, None]) / n
    own = unit_agreement(table, np.eye(table.shape[1]))
    observed, chance = float(weight @ own / (weight @ twice)), float(p @ p)
    kappa = (observed - chance) / (1 - chance)
    note = "interval: use AC1 or alpha"
    estimate = Estimate(kappa, NAN, NAN, 0.95, int(n), 0, name, True, note)
    error, by_category = NAN, np.full(len(p), NAN)
    if np.ptp(readers) == 0:
        error, by_category = _fleiss_error(table, weight, p)
    return FleissKappa(estimate, observed, chance, error, kappa / error, by_category)


def _fleiss_error(
    table: FloatArray, weight: FloatArray, p: FloatArray
) -> tuple[float, FloatArray]:
    """Return the error under chance agreement, and kappa by category."""
    m, n = float(table[0].sum()), float(weight.sum())
    spread = p * (1 - p)
    shape = spread.sum() ** 2 - np.sum(spread * (1 - 2 * p))
    error = float(np.sqrt(2 * shape / (n * m * (m - 1))) / spread.sum())
    mixed = weight @ (table * (m - table))
    used = spread > 0
    safe = np.where(used, spread, 1.0)
    return error, np.where(used, 1 - mixed / (n * m * (m - 1) * safe), np.nan)


@dataclass(frozen=True, slots=True)
class ChanceCorrected:
    """A chance-corrected coefficient with the raw (weighted) agreement it starts from."""

    coefficient: Estimate
    raw_agreement: float
    chance_agreement: float
    standard_error: float


def gwet_ac(
    counts: ArrayLike,
    *,
    weights: ArrayLike | None = None,
    frequency: ArrayLike | None = None,
    patient: ArrayLike | None = None,
    large_sample: bool = False,
    level: float = 0.95,
    minimum_units: int = MINIMUM_PAIRS,
) -> ChanceCorrected:
    """Return AC1 (no weights) or AC2 from counts (n, q); units may have gaps.

    The error is over units, or over `patient` (n,) whose contributions are summed first. Over
    units the interval is by t; with patients they are left out in turn, on the logarithm of
    disagreement. `large_sample` divides by n in place of n-1, as the formula for a
    table of two readers does. Source: Gwet KL. Br J Math Stat Psychol 2008;61:29-48,
    doi:10.1348/000711006X126600.
    """
    table = np.asarray(counts, dtype=float)
    weight = np.ones(len(table)) if frequency is None else np.asarray(frequency, dtype=float)
    rated = (table.sum(axis=1) > 0) & (weight > 0)
    table, weight = table[rated], weight[rated]
    q = table.shape[1]
    matrix = np.eye(q) if weights is None else np.asarray(weights, dtype=float)
    name = "Gwet's AC1" if weights is None else "Gwet's AC2"
    n = float(weight.sum())
    twice = table.sum(axis=1) >= 2
    reason = too_few(int(weight @ twice), max(minimum_units, 2), what="units read twice")
    if not reason and q < 2:
        reason = ONE_CATEGORY
    if reason:
        none = refused(reason, method=name, n_used=int(n), level=level)
        return ChanceCorrected(none, NAN, NAN, NAN)
    value, observed, chance, unit = gwet_estimate(table, weight, matrix)
    labels = None if patient is None else np.asarray(patient)[rated]
    error, freedom = _linear_error(unit - value, weight, labels)
    if large_sample and patient is None:
        error *= float(np.sqrt((n - 1) / n))
    half = float(stats.t.ppf((1 + level) / 2, freedom)) * error if freedom > 0 else NAN
    name += "; over units, t" if patient is None else "; over patients, log of disagreement"
    note = "" if freedom > 0 else "all readings come from one patient: no interval"
    low, high = value - half, float(np.minimum(value + half, 1.0))
    if labels is not None and freedom > 1:
        left_out = gwet_left_out(table, weight, matrix, labels)
        low, high = agreement_bounds(value, left_out, level)
        note = AGREE_EVERYWHERE if np.isnan(low) else note
    estimate = Estimate(value, low, high, level, int(n), 0, name, True, note)
    return ChanceCorrected(estimate, observed, chance, error)


def _linear_error(
    deviation: FloatArray, weight: FloatArray, patient: np.ndarray | None
) -> tuple[float, int]:
    n = float(weight.sum())
    if patient is None:
        return float(np.sqrt(weight @ deviation**2 / (n * (n - 1)))), int(n) - 1
    codes, count = cluster_codes(patient)
    if count < 2:
        return NAN, 0
    sums = cluster_sums(weight * deviation, codes, count)
    return float(np.sqrt(count / (count - 1) * (sums @ sums))) / n, count - 1


def krippendorff_alpha(
    counts: ArrayLike,
    *,
    categories: ArrayLike,
    metric: str = "nominal",
    weights: ArrayLike | None = None,
    patient: ArrayLike | None = None,
    level: float = 0.95,
    minimum_units: int = MINIMUM_PAIRS,
) -> ChanceCorrected:
    """Return alpha from counts (n, q) and category values; the interval is a jackknife.

    `weights` (agreement weights) replaces the metric. The jackknife leaves out one unit, or
    one `patient`, at a time. "ordinal" is Krippendorff's rank-sum metric, which is not the
    ordinal weighting of AC2. Source: Krippendorff K. Content Analysis. 3rd ed. Sage 2013,
    chapter 12; Hayes AF, Krippendorff K. Commun Methods Meas 2007;1:77-89,
    doi:10.1080/19312450709336664.
    """
    if metric not in METRICS:
        raise ValueError(f"metric must be one of {METRICS}, got {metric!r}.")
    table, values = np.asarray(counts, dtype=float), np.asarray(categories, dtype=float)
    twice = table.sum(axis=1) >= 2
    kept = table[twice]
    labels = np.arange(len(kept)) if patient is None else np.asarray(patient)[twice]
    name = f"Krippendorff's alpha; {metric if weights is None else 'weighted'}, jackknife"
    reason = too_few(len(kept), max(minimum_units, 3), what="units read twice")
    if not reason and np.count_nonzero(kept.sum(axis=0)) < 2:
        reason = ONE_CATEGORY
    if reason:
        none = refused(reason, method=name, level=level, n_used=len(kept))
        return ChanceCorrected(none, NAN, NAN, NAN)
    q, fixed = len(values), None if weights is None else 1 - np.asarray(weights, dtype=float)
    sums = _coincidences(kept, *cluster_codes(labels))
    count = len(sums)

    def statistic(sums: FloatArray) -> FloatArray:
        return _alpha(sums.reshape(*sums.shape[:-1], q, q), values, metric, fixed)

    value, disagreement, chance = (float(x) for x in statistic(sums.sum(axis=0)))
    left_out = cluster_jackknife(sums, statistic)[:, :1]
    if count < 3 or not np.isfinite(left_out).all():
        error, note = NAN, "the agreement rests on one patient: no interval"
        low, high = NAN, NAN
    else:
        error, note = float(jackknife_standard_error(left_out)[0]), ""
        low, high = agreement_bounds(value, left_out[:, 0], level)
        note = AGREE_EVERYWHERE if np.isnan(low) else note
    if weights is None and metric != "nominal":
        # Distances in units of the scale are no share of agreement.
        disagreement = chance = NAN
    missing = len(table) - len(kept)
    estimate = Estimate(value, low, high, level, len(kept), missing, name, True, note)
    return ChanceCorrected(estimate, 1 - disagreement, 1 - chance, error)


def _coincidences(table: FloatArray, codes: IntArray, count: int) -> FloatArray:
    """Return pairable readings by patient, (G, q * q), each unit with weight 1/(m - 1)."""
    products = table[:, :, None] * table[:, None, :]
    products -= table[:, :, None] * np.eye(table.shape[1])
    scaled = products / (table.sum(axis=1) - 1)[:, None, None]
    return cluster_sums(scaled.reshape(len(table), -1), codes, count)


def _alpha(
    coincidence: FloatArray, values: FloatArray, metric: str, fixed: FloatArray | None
) -> FloatArray:
    """Return alpha, observed and expected disagreement, stacked last, from (..., q, q)."""
    margin = coincidence.sum(axis=-1)
    # Leaving out the only patient leaves nothing: NaN, which the caller turns to a reason.
    n = np.where(margin.sum(axis=-1) > 1, margin.sum(axis=-1), np.nan)
    distance = _distance(values, margin, metric) if fixed is None else fixed
    observed = np.sum(coincidence * distance, axis=(-2, -1)) / n
    pairs = margin[..., :, None] * margin[..., None, :]
    expected = np.sum(pairs * distance, axis=(-2, -1)) / (n * (n - 1))
    safe = np.where(expected > 0, expected, np.nan)
    return np.stack([1 - observed / safe, observed, expected], axis=-1)


def _distance(values: FloatArray, margin: FloatArray, metric: str) -> FloatArray:
    gaps = np.subtract.outer(values, values)
    if metric == "nominal":
        return (gaps != 0).astype(float)
    if metric == "interval":
        return np.asarray(gaps**2, dtype=float)
    if metric == "ratio":
        total = np.add.outer(values, values)
        return np.asarray((gaps / np.where(total == 0, 1.0, total)) ** 2, dtype=float)
    # Rank-sum: half of each end category and all of those between them.
    middle = np.cumsum(margin, axis=-1) - margin / 2
    return np.asarray((middle[..., :, None] - middle[..., None, :]) ** 2, dtype=float)
