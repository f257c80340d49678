"""Readers of films (A9): coefficients of grades, and offsets read twice, in known practices."""

from functools import cache

import numpy as np
from scipy import stats

from lengthwise.analyse.agreement_readers import PAI_GRADES
from lengthwise.statistics.agreement.clustered_limits import clustered_limits
from lengthwise.statistics.agreement.intraclass import intraclass_correlations
from lengthwise.statistics.agreement.kappa import kappa_of_readings
from lengthwise.statistics.agreement.rater_agreement import (
    category_weights,
    gwet_ac,
    krippendorff_alpha,
    rating_counts,
)
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import Estimate

from .agreement import is_sensible, tried_of
from .practices import Layout, differences, layout
from .study import Cell, Study, Tried

# Share of teeth with each grade: even, or nearly all with the first one.
GRADES = {"even": (0.2, 0.2, 0.2, 0.2, 0.2), "mostly 1": (0.7, 0.15, 0.08, 0.05, 0.02)}
# Of the spread of what a reader sees, this much is the tooth itself.
SEEN = 0.85
LEAST = 10
MANY_PATIENTS, TIMES = 2000, 250
OFFSET_SD_MM, READING_SD_MM, READER_BIAS_MM = 0.8, 0.3, 0.1


def grades(
    where: Layout, cell: Cell, random: np.random.Generator, practices: int
) -> tuple[np.ndarray, np.ndarray]:
    """Return the grades (practices, n) that two readers give to what they see."""
    tooth = differences(where, cell["icc"], "normal", random, practices)
    cuts = stats.norm.ppf(np.cumsum(GRADES[cell["grades"]])[:-1])
    both = []
    for _ in range(2):
        seen = differences(where, cell["icc"], "normal", random, practices)
        both.append(
            1.0 + np.searchsorted(cuts, np.sqrt(SEEN) * tooth + np.sqrt(1 - SEEN) * seen)
        )
    return both[0], both[1]


def of_grades(first: np.ndarray, second: np.ndarray, patient: np.ndarray) -> list[Estimate]:
    """Return raw agreement and the three coefficients as in the report."""
    same = clustered_proportion_of_rows(first == second, patient)
    kappa = kappa_of_readings(
        first, second, categories=PAI_GRADES, patient=patient, weights="quadratic",
        minimum_units=LEAST,
    )  # fmt: skip
    counts, order = rating_counts(np.column_stack([first, second]), PAI_GRADES)
    gwet = gwet_ac(
        counts, weights=category_weights(order, "quadratic"), patient=patient,
        minimum_units=LEAST,
    )  # fmt: skip
    alpha = krippendorff_alpha(
        counts, categories=order, metric="ordinal", patient=patient, minimum_units=LEAST
    )
    raw = same.wilson_icc if same.wilson_icc.valid else same.naive
    return [raw, kappa.kappa, gwet.coefficient, alpha.coefficient]


NAMES = (
    ("Wilson, design effect from ICC", "same grade"),
    ("patient jackknife", "weighted kappa"),
    ("over patients", "AC2"),
    ("patient jackknife", "alpha, ordinal"),
)


@cache
def truths(kind: str) -> tuple[float, ...]:
    """Return the coefficients of very many films; likeness within patients changes none."""
    random = np.random.default_rng(1)
    where = layout("1", MANY_PATIENTS)
    two = grades(where, {"icc": 0.0, "grades": kind}, random, TIMES)
    first, second = (one.ravel() for one in two)
    found = of_grades(first, second, np.arange(first.size) // 100)
    return tuple(one.estimate for one in found)


def read_grades(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try raw agreement, weighted kappa, AC2 and alpha of two readers."""
    where = layout(cell["canals"], cell["patients"])
    two = grades(where, cell, random, simulations)
    found = [of_grades(*both, where.patient) for both in zip(*two, strict=True)]
    return [
        tried_of(*names, true, list(values))
        for names, true, values in zip(
            NAMES, truths(cell["grades"]), zip(*found, strict=True), strict=True
        )
    ]


def read_offsets(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try bias, limits and ICC of offsets in mm that are read twice."""
    where = layout(cell["canals"], cell["patients"])
    offset = OFFSET_SD_MM * differences(where, cell["icc"], "normal", random, simulations)
    first, second = (
        offset + READING_SD_MM * differences(
            where, cell["icc"], cell["errors"], random, simulations
        )
        for _ in range(2)
    )  # fmt: skip
    second = second + READER_BIAS_MM
    reach = 1.959963984540054 * np.sqrt(2) * READING_SD_MM
    spread = OFFSET_SD_MM**2 + READING_SD_MM**2 + READER_BIAS_MM**2 / 2
    truth = {
        "reader bias": READER_BIAS_MM,
        "reader lower limit": READER_BIAS_MM - reach,
        "reader upper limit": READER_BIAS_MM + reach,
        "reader ICC(A,1)": OFFSET_SD_MM**2 / spread,
    }
    found: dict[str, list[Estimate]] = {name: [] for name in truth}
    for one, other in zip(first, second, strict=True):
        limits = clustered_limits(
            other, one, patient=where.patient, tooth=where.tooth, minimum_pairs=LEAST
        )
        table = np.column_stack([one, other])
        within = intraclass_correlations(table, patient=where.patient, minimum_rows=LEAST)
        values = (limits.bias, limits.lower, limits.upper, within.form("ICC(A,1)"))
        for name, value in zip(truth, values, strict=True):
            found[name].append(value)
    return [
        tried_of("patient jackknife", name, true, found[name]) for name, true in truth.items()
    ]


PATIENTS = (15, 30, 60, 200)
STUDIES = (
    Study(
        "agreement_readers",
        "A9: agreement of two readers on five grades",
        {
            "canals": ("1", "1 or 2", "1 to 5"), "icc": (0.0, 0.3, 0.6),
            "grades": tuple(GRADES), "patients": PATIENTS,
        },
        read_grades,
        keep=is_sensible,
    ),
    Study(
        "agreement_reader_offsets",
        "A9: bias, limits and intraclass correlation of offsets read twice",
        {
            "canals": ("1", "1 or 2", "1 to 5"), "icc": (0.0, 0.3, 0.6), "patients": PATIENTS,
            "errors": ("normal", "strongly skewed"),
        },
        read_offsets,
        simulations=500,
        keep=is_sensible,
    ),
)  # fmt: skip
