"""Time of the estimating equations against statsmodels, in one run.

Run as `python -m bench.bench_gee` from `tests/`, with `--large` for ten million teeth.
"""

import math
import resource
import sys
import time
from typing import Any

import numpy as np

from lengthwise.statistics.outcome.gee import fit_gee

TERMS = ("intercept", "short", "beyond", "months")
TEETH_PER_PATIENT = 100 / 66


def teeth(n: int, *, seed: int = 20240601) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return outcome, design and patient of n teeth in 0.66 n patients, rows shuffled."""
    generator = np.random.default_rng(seed)
    patients = round(n / TEETH_PER_PATIENT)
    patient = generator.integers(patients, size=n)
    level = generator.integers(3, size=n)
    design = np.empty((n, 4))
    design[:, 0] = 1.0
    design[:, 1], design[:, 2] = level == 1, level == 2
    design[:, 3] = generator.standard_normal(n)
    tendency = generator.standard_normal(patients)[patient]
    predictor = design @ np.array([-1.5, 0.5, 0.3, 0.1]) + tendency
    outcome = (generator.random(n) < 1 / (1 + np.exp(-predictor))).astype(float)
    return outcome, design, patient


def ours(n: int, covariance: str = "robust") -> tuple[float, Any]:
    """Return seconds and fit of n teeth."""
    outcome, design, patient = teeth(n)
    start = time.perf_counter()
    fit = fit_gee(outcome, design, patient, terms=TERMS, covariance=covariance)
    return time.perf_counter() - start, fit


def theirs(n: int) -> tuple[float, Any]:
    """Return seconds to build and fit statsmodels' model of the same teeth, and its result."""
    import statsmodels.api as sm

    outcome, design, patient = teeth(n)
    start = time.perf_counter()
    model = sm.GEE(
        outcome,
        design,
        patient,
        family=sm.families.Binomial(),
        cov_struct=sm.cov_struct.Exchangeable(),
    )
    result = model.fit()
    return time.perf_counter() - start, result


def run(*, large: bool = False) -> list[dict[str, Any]]:
    """Return one row a size: seconds of both, their ratio, and the largest difference."""
    ours(1_000)
    rows = []
    slow, result = theirs(100_000)
    fast, fit = min((ours(100_000) for _ in range(3)), key=lambda pair: pair[0])
    gap = float(np.abs(fit.vector() - result.params).max())
    rows.append(_row(100_000, fast, slow, gap))
    for n in (1_000_000, 10_000_000) if large else (1_000_000,):
        rows.append(_row(n, ours(n)[0], math.nan, math.nan))
    return rows


def _row(n: int, seconds: float, other: float, gap: float) -> dict[str, Any]:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    return {
        "teeth": n,
        "seconds": round(seconds, 4),
        "statsmodels_seconds": round(other, 2),
        "ratio": round(other / seconds, 1),
        "largest_difference": gap,
        "peak_memory_gb": round(peak, 2),
    }


if __name__ == "__main__":
    for line in run(large="--large" in sys.argv):
        print(line)
