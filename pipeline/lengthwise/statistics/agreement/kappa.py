"""Kappa of two readers, plain or weighted, with errors by patient (A9)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement.pairs import MINIMUM_PAIRS, too_few
from lengthwise.statistics.clusters import FloatArray, IntArray, cluster_codes
from lengthwise.statistics.resampling import (
    AGREE_EVERYWHERE,
    agreement_bounds,
    cluster_jackknife,
    jackknife_standard_error,
)
from lengthwise.statistics.results import NAN, Estimate, refused

WEIGHTS = ("none", "linear", "quadratic")
ONE_CATEGORY = "both readers used a single category, so chance agreement is complete"


@dataclass(frozen=True, slots=True)
class Kappa:
    """Kappa with the raw agreement it starts from.

    `standard_error_null` is the error if there were only chance agreement; `z` tests that.
    """

    kappa: Estimate
    raw_agreement: float
    chance_agreement: float
    standard_error: float
    standard_error_null: float
    z: float


def agreement_weights(n_categories: int, weights: str) -> FloatArray:
    """Return weights (q, q) with 1 on the diagonal: "none", "linear" or "quadratic"."""
    if weights not in WEIGHTS:
        raise ValueError(f"weights must be one of {WEIGHTS}, got {weights!r}.")
    if weights == "none" or n_categories < 2:
        return np.eye(n_categories)
    steps = np.abs(np.subtract.outer(np.arange(n_categories), np.arange(n_categories)))
    return 1 - (steps / (n_categories - 1)) ** (1 if weights == "linear" else 2)


def kappa_of_table(
    table: ArrayLike,
    *,
    weights: str | ArrayLike = "none",
    level: float = 0.95,
    minimum_units: int = MINIMUM_PAIRS,
    n_missing: int = 0,
) -> Kappa:
    """Return kappa from counts (q, q), first reader in rows; units are independent.

    `weights` is a word or a matrix of agreement weights. Source: Fleiss JL, Cohen J, Everitt
    BS. Psychol Bull 1969;72:323-327, doi:10.1037/h0028106.
    """
    counts = np.asarray(table, dtype=float)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1]:
        raise ValueError("table must be square, one row and one column per category.")
    matrix = _matrix(weights, len(counts))
    n = float(counts.sum())
    name = "kappa; large-sample error"
    reason = too_few(int(n), max(minimum_units, 1), what="units")
    if not reason and float(_parts(counts, matrix)[1]) >= 1 - 1e-12:
        reason = ONE_CATEGORY
    if reason:
        return _refused(reason, name, int(n), n_missing, level)
    observed, chance = (float(one) for one in _parts(counts, matrix))
    kappa = (observed - chance) / (1 - chance)
    p = counts / n
    rows, columns = p.sum(axis=1), p.sum(axis=0)
    expected = (matrix @ columns)[:, None] + (rows @ matrix)[None, :]
    scale = n * (1 - chance) ** 2
    own = np.sum(p * (matrix - expected * (1 - kappa)) ** 2)
    variance = (own - (kappa - chance * (1 - kappa)) ** 2) / scale
    null = (np.sum(np.outer(rows, columns) * (matrix - expected) ** 2) - chance**2) / scale
    error, error_null = float(np.sqrt(max(variance, 0))), float(np.sqrt(max(null, 0)))
    half = float(stats.norm.ppf((1 + level) / 2)) * error
    low, high = max(kappa - half, -1.0), min(kappa + half, 1.0)
    estimate = Estimate(kappa, low, high, level, int(n), n_missing, name)
    z = kappa / error_null if error_null > 0 else NAN
    return Kappa(estimate, observed, chance, error, error_null, z)


def kappa_of_readings(
    first: ArrayLike,
    second: ArrayLike,
    *,
    categories: ArrayLike,
    patient: ArrayLike | None = None,
    weights: str = "none",
    level: float = 0.95,
    minimum_units: int = MINIMUM_PAIRS,
) -> Kappa:
    """Return kappa of readings `first` (n,) and `second` (n,); unknown words are missing.

    With `patient` the interval leaves patients out in turn, on the logarithm of disagreement
    (t). `categories` are in order.
    """
    order = np.asarray(categories)
    a, b = _positions(first, order), _positions(second, order)
    known = (a >= 0) & (b >= 0)
    missing, q = int((~known).sum()), len(order)
    cells = a[known] * q + b[known]
    table = np.bincount(cells, minlength=q * q).reshape(q, q)
    plain = kappa_of_table(
        table, weights=weights, level=level, minimum_units=minimum_units, n_missing=missing
    )
    if patient is None or not plain.kappa.valid:
        return plain
    codes, count = cluster_codes(np.asarray(patient)[known])
    by_patient = np.bincount(codes * q * q + cells, minlength=count * q * q)
    tables = by_patient.reshape(count, q * q).astype(float)
    return _by_patient(plain, tables, agreement_weights(q, weights), level)


def _by_patient(plain: Kappa, tables: FloatArray, matrix: FloatArray, level: float) -> Kappa:
    """Return the same kappa with a jackknife over patients' tables (G, q * q)."""
    count, q = len(tables), len(matrix)
    name, n = "kappa; patient jackknife, log of disagreement", plain.kappa.n_used
    missing = plain.kappa.n_missing
    reason = too_few(count, 3, what="patients")
    if reason:
        return _refused(reason, name, n, missing, level)

    def statistic(sums: FloatArray) -> FloatArray:
        observed, chance = _parts(sums.reshape(-1, q, q), matrix)
        safe = np.where(chance < 1 - 1e-12, 1 - chance, np.nan)
        return ((observed - chance) / safe)[..., None]

    left_out = cluster_jackknife(tables, statistic)
    if not np.isfinite(left_out).all():
        reason = "the agreement rests on one patient, so it has no interval"
        return _refused(reason, name, n, missing, level)
    error, value = float(jackknife_standard_error(left_out)[0]), plain.kappa.estimate
    low, high = agreement_bounds(value, left_out[:, 0], level)
    note = AGREE_EVERYWHERE if np.isnan(low) else ""
    estimate = Estimate(value, low, high, level, n, missing, name, True, note)
    return Kappa(
        estimate,
        plain.raw_agreement,
        plain.chance_agreement,
        error,
        plain.standard_error_null,
        plain.z,
    )


def _matrix(weights: str | ArrayLike, q: int) -> FloatArray:
    if isinstance(weights, str):
        return agreement_weights(q, weights)
    matrix = np.asarray(weights, dtype=float)
    if matrix.shape != (q, q):
        raise ValueError("weights must have the shape of the table.")
    return matrix


def _parts(counts: FloatArray, matrix: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return weighted observed and chance agreement from counts (..., q, q)."""
    p = counts / counts.sum(axis=(-2, -1), keepdims=True)
    rows, columns = p.sum(axis=-1), p.sum(axis=-2)
    observed = np.sum(p * matrix, axis=(-2, -1))
    return observed, np.einsum("...i,ij,...j->...", rows, matrix, columns)


def _positions(values: ArrayLike, order: np.ndarray) -> IntArray:
    """Return the place of each value in `order`, -1 where it is not there or missing."""
    array = np.asarray(values)
    found = np.full(len(array), -1, dtype=np.int64)
    for place, word in enumerate(order.tolist()):
        found[array == word] = place
    return found


def _refused(reason: str, name: str, n: int, missing: int, level: float) -> Kappa:
    none = refused(reason, method=name, n_used=n, n_missing=missing, level=level)
    return Kappa(none, NAN, NAN, NAN, NAN, NAN)
