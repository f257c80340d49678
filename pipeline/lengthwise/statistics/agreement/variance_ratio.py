"""Ratio of two methods' error variances from repeated readings, by patient (A5)."""

from dataclasses import dataclass

import numpy as np

from lengthwise.statistics.agreement.pairs import too_few
from lengthwise.statistics.agreement.repeat_bounds import left_out, squares_of_patients
from lengthwise.statistics.clusters import FloatArray, cluster_codes
from lengthwise.statistics.resampling import log_jackknife_bounds
from lengthwise.statistics.results import Estimate, refused

NAME = "ratio of within-subject variances; patient jackknife, log scale"


@dataclass(frozen=True, slots=True)
class Repeats:
    """Complete readings (n,) of one method with the subject and patient of each."""

    values: FloatArray
    subject: np.ndarray
    patient: np.ndarray


def variance_ratio_by_patient(
    reference: Repeats, method: Repeats, *, level: float = 0.95
) -> Estimate:
    """Return error variance of the method over that of the reference, from repeats.

    Whole patients are left out in turn (log ratio, t), so that neither normal errors nor
    equal patients are asked for. A patient may have repeats by one method only.
    """
    n = len(reference.values) + len(method.values)
    codes, count = cluster_codes(np.concatenate([reference.patient, method.patient]))
    if count < 3:
        return refused(too_few(count, 3, what="patients"), method=NAME, n_used=n, level=level)
    split = len(reference.values)
    parts = ((reference, codes[:split]), (method, codes[split:]))
    below, above = (
        squares_of_patients(one.values, one.subject, people, count) for one, people in parts
    )
    for freedom in (below[:, 1].sum(), above[:, 1].sum()):
        if freedom < 0.5:
            return refused("no subject has two readings", method=NAME, n_used=n, level=level)
    if below[:, 0].sum() <= 0 or above[:, 0].sum() <= 0:
        reason = "a method gave the same reading every time"
        return refused(reason, method=NAME, n_used=n, level=level)
    first, second = (one[:, 0].sum() / one[:, 1].sum() for one in (below, above))
    rest = left_out(below)
    ratios = left_out(above) / np.where(rest > 0, rest, np.inf)
    low, high = log_jackknife_bounds(np.array(second / first), ratios, level=level)
    return Estimate(float(second / first), float(low), float(high), level, n, 0, NAME)
