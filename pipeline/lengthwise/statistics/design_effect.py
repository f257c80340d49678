"""How much less a case tells when several belong to one patient."""

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.results import Estimate, refused

METHOD = "design effect: variance of the mean over patients against independent cases"
MINIMUM_CLUSTERS = 10


def design_effect_of_mean(
    values: ArrayLike, cluster: ArrayLike, *, minimum_clusters: int = MINIMUM_CLUSTERS
) -> Estimate:
    """Return the variance of the mean with clusters over its variance without.

    Parameters
    ----------
    values : array_like of float, shape (n_cases,)
        Differences in mm, or 0 and 1. Missing values are set aside and counted.
    cluster : array_like of shape (n_cases,)
        Patient of each case.
    minimum_clusters : int
        Fewer patients: refused.

    Returns
    -------
    Estimate
        Without interval. Below 1 where cases of a patient differ more than those of
        different patients, which is mostly chance.

    Raises
    ------
    ValueError
        When shapes differ.

    Notes
    -----
    c / (c - 1) times the sum over patients of squared sums of deviations, over the sum of
    squared deviations times n / (n - 1): the ratio estimator's variance over the plain one.

    References
    ----------
    Kish L. Survey Sampling. 1965, section 6.5.
    Rao JNK, Scott AJ. Biometrics 1992;48:577-585. doi:10.2307/2532311
    """
    value, patient = np.asarray(values, dtype=float), np.asarray(cluster)
    if value.ndim != 1 or value.shape != patient.shape:
        raise ValueError("values and cluster must be one-dimensional and of one length")
    known = np.isfinite(value)
    value, patient = value[known], patient[known]
    n_missing = int((~known).sum())
    codes = np.unique(patient, return_inverse=True)[1]
    count = int(codes.max()) + 1 if codes.size else 0
    deviation = value - value.mean() if value.size else value
    spread = float((deviation**2).sum())
    if count < minimum_clusters or spread == 0:
        reason = (
            "every case is alike: no design effect"
            if count >= minimum_clusters
            else f"{count} patients, fewer than {minimum_clusters}: no design effect"
        )
        return refused(reason, method=METHOD, n_used=value.size, n_missing=n_missing)
    between = float((np.bincount(codes, weights=deviation) ** 2).sum()) * count / (count - 1)
    effect = between / (spread * value.size / (value.size - 1))
    return Estimate(effect, np.nan, np.nan, 0.95, value.size, n_missing, METHOD)
