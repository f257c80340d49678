"""Growth with length and lines of two methods that both carry error (A5)."""

import numpy as np

from lengthwise.analyse.agreement_lines import Repeated, error_variance_ratio
from lengthwise.statistics.agreement.proportional_bias import regression_limits
from lengthwise.statistics.agreement.structural_lines import deming_line, passing_bablok_line
from lengthwise.statistics.agreement.variance_ratio import Repeats
from lengthwise.statistics.results import Estimate

from .agreement import is_sensible
from .outcome import tried_of
from .practices import Layout, differences, layout, noise
from .study import Cell, Study, Tried

LENGTH_MM, LENGTH_SD_MM = 20.0, 2.0
# Canals of one patient are alike in length too.
ALIKE_LENGTHS = 0.4
SLOPE, INTERCEPT_MM = 1.03, -0.4
ERROR_SD_MM = 0.4
# Error variance of the method over that of the reference, and readings of a canal by each.
TWICE = "1.5, from repeats"
ERRORS = {"equal": (1.0, 1), TWICE: (1.5, 2)}
LEAST = 10
Found = dict[tuple[str, str], tuple[float, Estimate]]


def growth_on_mean(ratio: float, readings: int) -> float:
    """Return the slope of the difference on the mean over all canals, of means of readings."""
    error = ERROR_SD_MM**2 / readings
    first = SLOPE**2 * LENGTH_SD_MM**2 + ratio * error
    second, shared = LENGTH_SD_MM**2 + error, SLOPE * LENGTH_SD_MM**2
    return (first - second) / 2 / ((first + second + 2 * shared) / 4)


def of_readings(method: np.ndarray, reference: np.ndarray, where: Layout) -> Found:
    """Return what the report gives of readings (n, times) of both methods."""
    readings = method.shape[1]
    y, x = method.mean(axis=1), reference.mean(axis=1)
    ratio, found = 1.0, {}
    if readings > 1:
        canal = np.repeat(np.arange(len(y)), readings)
        people = where.patient[canal]
        repeats = {
            name: Repeated(Repeats(values.ravel(), canal, people), 1 / readings)
            for name, values in (("method", method), ("reference", reference))
        }
        known = error_variance_ratio(repeats, "method", "reference")
        found["from repeats", "ratio of error variances"] = (ERRORS[TWICE][0], known)
        ratio = known.estimate if known.valid else 1.0
    growth = regression_limits(y, x, patient=where.patient, minimum_pairs=LEAST)
    true = growth_on_mean(ERRORS[TWICE if readings > 1 else "equal"][0], readings)
    line = deming_line(x, y, patient=where.patient, variance_ratio=ratio, minimum_pairs=LEAST)
    found |= {
        ("CR2", "growth of difference"): (true, growth.slope),
        ("Deming", "slope"): (SLOPE, line.slope),
        ("Deming", "intercept"): (INTERCEPT_MM, line.intercept),
    }
    if readings == 1:
        # Independent pairs: one canal of each patient, as in the report.
        one = np.unique(where.patient, return_index=True)[1]
        passing = passing_bablok_line(x[one], y[one], minimum_pairs=LEAST)
        found["Passing-Bablok", "slope"] = (SLOPE, passing.slope)
        found["Passing-Bablok", "intercept"] = (INTERCEPT_MM, passing.intercept)
    return found


def lines(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try the growth with length and both lines; errors of a canal are read anew each time."""
    where = layout(cell["canals"], cell["patients"])
    ratio, readings = ERRORS[cell["variances"]]
    icc, kind = cell["icc"], cell["errors"]
    kept: dict[tuple[str, str], list[tuple[float, Estimate]]] = {}
    for _ in range(simulations):
        true = LENGTH_MM + LENGTH_SD_MM * differences(where, ALIKE_LENGTHS, "normal", random, 1)
        both = []
        for variance in (1.0, ratio):
            shared = noise(random, cell["patients"], kind)[where.patient]
            own = noise(random, where.n_canals * readings, kind).reshape(-1, readings)
            error = np.sqrt(icc / readings) * shared[:, None] + np.sqrt(1 - icc) * own
            both.append(ERROR_SD_MM * np.sqrt(variance) * error)
        reference = true[0][:, None] + both[0]
        method = INTERCEPT_MM + SLOPE * true[0][:, None] + both[1]
        for key, value in of_readings(method, reference, where).items():
            kept.setdefault(key, []).append(value)
    return [tried_of(*key, pairs) for key, pairs in kept.items()]


STUDIES = (
    Study(
        "agreement_lines",
        "A5: growth of the difference with length, Deming and Passing-Bablok lines",
        {
            "canals": ("1", "1 or 2", "1 to 5"), "icc": (0.0, 0.3, 0.6),
            "variances": tuple(ERRORS), "patients": (20, 50, 200),
            "errors": ("normal", "strongly skewed"),
        },
        lines,
        simulations=500,
        keep=is_sensible,
    ),
)  # fmt: skip
