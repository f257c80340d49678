"""The interval of the SD of repeated readings, by leaving patients out (A3)."""

import numpy as np

from lengthwise.statistics.clusters import FloatArray, cluster_codes, cluster_sums
from lengthwise.statistics.resampling import log_jackknife_bounds


def bounds_by_patient(
    values: FloatArray, subject: np.ndarray, patient: np.ndarray, sw: float, level: float
) -> tuple[float, float]:
    """Return bounds of the within-subject SD from the SDs without each patient."""
    codes, count = cluster_codes(subject)
    means = cluster_sums(values, codes, count) / np.bincount(codes)
    people, n_people = cluster_codes(patient)
    # A subject's readings share out its one lost degree of freedom.
    freedom = 1 - 1 / np.bincount(codes)[codes]
    squares = (values - means[codes]) ** 2
    sums = cluster_sums(np.column_stack([squares, freedom]), people, n_people)
    rest = sums.sum(axis=0) - sums
    # One patient may hold all the repeats.
    left_out = np.sqrt(rest[:, 0] / np.where(rest[:, 1] > 0.5, rest[:, 1], np.inf))
    low, high = log_jackknife_bounds(np.array(sw), left_out, level=level)
    return float(low), float(high)
