"""Parts of Gwet's coefficients: the estimate, and that without each patient (A9)."""

import numpy as np

from lengthwise.statistics.clusters import FloatArray, cluster_codes, cluster_sums


def gwet_left_out(
    table: FloatArray, weight: FloatArray, matrix: FloatArray, patient: np.ndarray
) -> FloatArray:
    """Return the coefficient without each patient (G,)."""
    readers = table.sum(axis=1)
    parts = (np.ones(len(table)), readers >= 2, unit_agreement(table, matrix))
    rows = np.column_stack([*parts, table / readers[:, None]]) * weight[:, None]
    sums = cluster_sums(rows, *cluster_codes(patient))
    rest = sums.sum(axis=0) - sums
    n, twice, own = (rest[:, i] for i in range(3))
    p, q = rest[:, 3:] / n[:, None], table.shape[1]
    chance = float(matrix.sum()) / (q * (q - 1)) * np.sum(p * (1 - p), axis=1)
    return np.asarray((own / np.maximum(twice, 1.0) - chance) / (1 - chance), dtype=float)


def gwet_estimate(
    table: FloatArray, weight: FloatArray, matrix: FloatArray
) -> tuple[float, float, float, FloatArray]:
    """Return the coefficient, observed and chance agreement, and each unit's linear part."""
    q, n = table.shape[1], float(weight.sum())
    readers = table.sum(axis=1)
    twice = readers >= 2
    own = unit_agreement(table, matrix)
    shares = table / readers[:, None]
    p = weight @ shares / n
    scale = float(matrix.sum()) / (q * (q - 1))
    observed, chance = float(weight @ own / (weight @ twice)), scale * float(p @ (1 - p))
    value = (observed - chance) / (1 - chance)
    unit = n / float(weight @ twice) * (own - chance * twice) / (1 - chance)
    unit -= 2 * (1 - value) * (scale * shares @ (1 - p) - chance) / (1 - chance)
    return value, observed, chance, unit


def unit_agreement(table: FloatArray, matrix: FloatArray) -> FloatArray:
    """Return each unit's weighted share of agreeing pairs; 0 where it was read once."""
    readers = table.sum(axis=1)
    pairs = np.where(readers >= 2, readers * (readers - 1), 1.0)
    return np.where(readers >= 2, np.sum(table * (table @ matrix - 1), axis=1) / pairs, 0.0)
