"""Intervals of spreads of repeated readings, by leaving patients out (A3, A5)."""

import numpy as np

from lengthwise.statistics.clusters import FloatArray, cluster_codes, cluster_sums
from lengthwise.statistics.resampling import log_jackknife_bounds


def bounds_by_patient(
    values: FloatArray, subject: np.ndarray, patient: np.ndarray, sw: float, level: float
) -> tuple[float, float]:
    """Return bounds of the within-subject SD from the SDs without each patient."""
    people, count = cluster_codes(patient)
    spreads = np.sqrt(left_out(squares_of_patients(values, subject, people, count)))
    low, high = log_jackknife_bounds(np.array(sw), spreads, level=level)
    return float(low), float(high)


def squares_of_patients(
    values: FloatArray, subject: np.ndarray, people: np.ndarray, count: int
) -> FloatArray:
    """Return squares within subjects and their degrees of freedom (count, 2) by patient.

    `people` (n,) are codes of patients below `count`; a patient may have no reading.
    """
    codes, n_subjects = cluster_codes(subject)
    means = cluster_sums(values, codes, n_subjects) / np.bincount(codes)
    # A subject's readings share out its one lost degree of freedom.
    freedom = 1 - 1 / np.bincount(codes)[codes]
    squares = (values - means[codes]) ** 2
    return np.column_stack(
        [np.bincount(people, weights=one, minlength=count) for one in (squares, freedom)]
    )


def left_out(sums: FloatArray) -> FloatArray:
    """Return the within variance without each patient (G,), from their sums (G, 2)."""
    rest = sums.sum(axis=0) - sums
    # One patient may hold all the repeats.
    return np.asarray(rest[:, 0] / np.where(rest[:, 1] > 0.5, rest[:, 1], np.inf))
