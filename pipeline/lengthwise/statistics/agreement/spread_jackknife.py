"""Errors of log-variance coefficients by leaving patients out, in one step each (A7)."""

import numpy as np

from lengthwise.statistics.clusters import FloatArray
from lengthwise.statistics.patterns import ClusteredRows, Design
from lengthwise.statistics.resampling import jackknife_freedom

# An own choice: among more patients than this none weighs enough on the curvature.
MOST_PATIENTS = 2000


def spread_errors(
    scores: FloatArray,
    curvature: FloatArray,
    scaled: FloatArray,
    design: Design,
    patients: ClusteredRows,
) -> tuple[FloatArray, FloatArray]:
    """Return standard errors (q,) and degrees of freedom (q,) of log-variance coefficients.

    `scores` (G, q) are sums by patient, `curvature` (q, q) that of the whole fit, `scaled`
    (n,) each row's squared residual over its fitted variance, `design` that of the spread.
    Each patient is left out by one Newton step from the whole fit, with the curvature that
    stays without that patient: a sandwich that keeps it is too narrow, since the few large
    residuals carry both. Degrees of freedom follow from how unevenly patients weigh. Source
    of the step: Pregibon D. Ann Stat 1981;9:705-724, doi:10.1214/aos/1176345513.
    """
    count = len(scores)
    moves = scores @ np.linalg.inv(curvature)
    if count <= MOST_PATIENTS:
        z = design.rows
        products = (z[:, :, None] * z[:, None, :]).reshape(len(z), -1)
        own = patients.by_pattern(design, scaled / 2) @ products
        rest = curvature - own.reshape(count, *curvature.shape)
        # Where one patient holds a level there is no curvature without that one.
        told = np.linalg.cond(rest) < 1e10
        moves[told] = np.linalg.solve(rest[told], scores[told][:, :, None])[:, :, 0]
    errors = np.sqrt((count - 1) / count * np.sum(moves**2, axis=0))
    return errors, jackknife_freedom((moves - moves.mean(axis=0)).T)
