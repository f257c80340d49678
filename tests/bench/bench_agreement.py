"""Agreement of 100,000 canals in 30,000 patients against statsmodels' mixed model, in one run.

Run as `python -m tests.bench agreement`, or `python -m bench.bench_agreement` from `tests/`.
"""

import math
import resource
import time
import tracemalloc
import warnings
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from lengthwise.statistics.agreement.clustered_limits import clustered_limits
from lengthwise.statistics.agreement.nested import nested_components
from lengthwise.statistics.agreement.nested_likelihood import nested_components_reml

CANALS, PATIENTS = 100_000, 30_000
SD_PATIENT, SD_TOOTH, SD_CANAL = 0.20, 0.15, 0.40
Data = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]


def canals(n: int = CANALS, patients: int = PATIENTS, *, seed: int = 20240601) -> Data:
    """Return method and reference lengths (n,) in mm with patient and tooth, unbalanced."""
    generator = np.random.default_rng(seed)
    teeth = patients * 3 // 2
    owner = np.concatenate([np.arange(patients), generator.integers(patients, size=teeth // 3)])
    tooth = np.concatenate(
        [np.arange(len(owner)), generator.integers(len(owner), size=n - len(owner))]
    )
    patient = owner[tooth]
    reference = 20 + 2 * generator.standard_normal(n)
    difference = (
        -0.05
        + SD_PATIENT * generator.standard_normal(patients)[patient]
        + SD_TOOTH * generator.standard_normal(len(owner))[tooth]
        + SD_CANAL * generator.standard_normal(n)
    )
    return reference + difference, reference, patient, tooth


class Taken(NamedTuple):
    """Seconds by the clock, and of the processor: only these are right beside other work."""

    seconds: float
    processor: float


def timed(call: Callable[[], Any]) -> tuple[Taken, Any]:
    start, work = time.perf_counter(), time.process_time()
    found = call()
    return Taken(time.perf_counter() - start, time.process_time() - work), found


def mixed_model(data: Data) -> tuple[Taken, Any]:
    """Return times and fit of statsmodels' MixedLM with one level, by REML."""
    import statsmodels.api as sm

    method, reference, patient, _ = data
    difference = method - reference
    with warnings.catch_warnings():
        # Its optimiser may warn on the way; the fit is compared below, to four digits.
        warnings.simplefilter("ignore")
        return timed(
            lambda: sm.MixedLM(difference, np.ones((len(difference), 1)), patient).fit()
        )


def peak_of(call: Callable[[], Any]) -> float:
    """Return the most memory in GB that numpy and Python held at once during a call."""
    tracemalloc.start()
    call()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 2**30


def run() -> list[dict[str, Any]]:
    """Return one row per job; ratios are to the mixed model of the same run."""
    data = canals()
    method, reference, patient, tooth = data
    difference = method - reference
    nested_components(difference[:1000], {"patient": patient[:1000]})
    slow, other = mixed_model(data)
    levels = {"patient": patient, "tooth": tooth}

    def limits(**options: Any) -> Any:
        return clustered_limits(method, reference, patient=patient, tooth=tooth, **options)

    jobs: dict[str, Callable[[], Any]] = {
        "closed form, two levels": lambda: nested_components(difference, levels),
        "REML, one level": lambda: nested_components_reml(difference, {"patient": patient}),
        "REML, two levels": lambda: nested_components_reml(difference, levels),
        "bias, limits, jackknife intervals": limits,
        "bias, limits, MOVER intervals": lambda: limits(interval="mover"),
        "the same, 2,000 bootstrap draws": lambda: limits(interval="bootstrap", draws=2000),
    }
    rows = [
        {"job": "statsmodels MixedLM, one level", "seconds": round(slow.seconds, 2),
         "processor_seconds": round(slow.processor, 2)}
    ]  # fmt: skip
    results = {}
    for name, call in jobs.items():
        fast, results[name] = min((timed(call) for _ in range(2)), key=lambda pair: pair[0])
        rows.append(
            {"job": name, "seconds": round(fast.seconds, 4),
             "processor_seconds": round(fast.processor, 4),
             "ratio": round(slow.seconds / fast.seconds, 1),
             "processor_ratio": round(slow.processor / fast.processor, 1),
             "peak_gb": round(peak_of(call), 2)}
        )  # fmt: skip
    rows.append(_agreement(results["REML, one level"], other))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    rows.append({"job": "process, everything", "peak_gb": round(peak, 2)})
    return rows


def _agreement(found: Any, other: Any) -> dict[str, Any]:
    """Return both fits' components, and the largest relative difference of the SDs."""
    own = [math.sqrt(value) for value in found.variances]
    its = [math.sqrt(float(np.asarray(other.cov_re)[0, 0])), math.sqrt(other.scale)]
    gap = max(abs(a / b - 1) for a, b in zip(own, its, strict=True))
    row: dict[str, Any] = {"job": "components, ours and MixedLM (SD, mm)"}
    for place, (a, b) in enumerate(zip(own, its, strict=True), start=1):
        row |= {f"ours_{place}": round(a, 6), f"mixedlm_{place}": round(b, 6)}
    return row | {"largest_relative_difference": f"{gap:.1e}"}


if __name__ == "__main__":
    for line in run():
        print(line)
