"""Coefficients of two methods (A8): concordance, ICC, deviation index, equivalence."""

from functools import cache

import numpy as np

from lengthwise.statistics.agreement.concordance import concordance
from lengthwise.statistics.agreement.deviation_index import deviation_index
from lengthwise.statistics.agreement.equivalence import paired_equivalence
from lengthwise.statistics.agreement.intraclass import intraclass_correlations
from lengthwise.statistics.results import Estimate

from .agreement import is_sensible, tried_of
from .practices import Layout, differences, layout
from .study import Cell, Study, Tried

LENGTH_MM, LENGTH_SD_MM, ALIKE_LENGTHS = 20.0, 2.0, 0.4
ERROR_SD_MM, BIAS_MM = 0.35, 0.1
SHARE_OF_INDEX, MARGIN_MM, LEAST = 0.9, 0.5, 10
# Differences drawn for the index that holds 90 in 100: its own error is 0.001 mm.
MANY_PATIENTS, TIMES = 1000, 400


def readings(
    where: Layout, cell: Cell, random: np.random.Generator, practices: int
) -> tuple[np.ndarray, np.ndarray]:
    """Return method and reference (practices, n); errors are alike within patients."""
    true = LENGTH_MM + LENGTH_SD_MM * differences(
        where, ALIKE_LENGTHS, "normal", random, practices
    )
    first, second = (
        ERROR_SD_MM * differences(where, cell["icc"], cell["errors"], random, practices)
        for _ in range(2)
    )
    return true + BIAS_MM + first, true + second


@cache
def index_of(icc: float, errors: str) -> float:
    """Return the size that 90 in 100 differences of very many canals do not pass."""
    random = np.random.default_rng(1)
    where = layout("1 to 5", MANY_PATIENTS)
    method, reference = readings(where, {"icc": icc, "errors": errors}, random, TIMES)
    return float(np.quantile(np.abs(method - reference), SHARE_OF_INDEX))


def truths(cell: Cell) -> dict[str, float]:
    """Return every coefficient of all canals; the coefficients have no simulation in them."""
    spread = LENGTH_SD_MM**2 + ERROR_SD_MM**2
    return {
        "concordance": LENGTH_SD_MM**2 / (spread + BIAS_MM**2 / 2),
        # With two methods the spread of their means is bias squared by two.
        "ICC(A,1)": LENGTH_SD_MM**2 / (spread + BIAS_MM**2 / 2),
        "90 in 100 within, one-sided": index_of(cell["icc"], cell["errors"]),
        "bias, of the equivalence": BIAS_MM,
    }


def of_one(method: np.ndarray, reference: np.ndarray, patient: np.ndarray) -> list[Estimate]:
    """Return the coefficients of one practice, as in the report."""
    lin = concordance(method, reference, patient=patient, minimum_pairs=LEAST)
    index = deviation_index(
        method, reference, share=SHARE_OF_INDEX, threshold=MARGIN_MM, patient=patient,
        minimum_pairs=LEAST,
    ).index_lin  # fmt: skip
    # The report gives 90 in 100, as the two tests ask; the same interval at 95 is judged here.
    test = paired_equivalence(
        method, reference, lower_margin=-MARGIN_MM, upper_margin=MARGIN_MM, alpha=0.025,
        patient=patient, minimum_pairs=LEAST,
    )  # fmt: skip
    table = np.column_stack([method, reference])
    within = intraclass_correlations(table, patient=patient, minimum_rows=LEAST)
    return [lin.z_interval, within.form("ICC(A,1)"), index, test.bias]


def coefficients(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try every coefficient; the one-sided bound of the index starts at nought."""
    where = layout(cell["canals"], cell["patients"])
    method, reference = readings(where, cell, random, simulations)
    found = [of_one(*both, where.patient) for both in zip(method, reference, strict=True)]
    tried = [
        tried_of("patient jackknife" if place < 3 else "CR2", name, true, list(values))
        for place, ((name, true), values) in enumerate(
            zip(truths(cell).items(), zip(*found, strict=True), strict=True)
        )
    ]
    tried[2].lower[np.isfinite(tried[2].upper)] = 0.0
    return tried


STUDIES = (
    Study(
        "agreement_coefficients",
        "A8: concordance, intraclass correlation, deviation index and equivalence",
        {
            "canals": ("1", "1 or 2", "1 to 5"), "icc": (0.0, 0.3, 0.6),
            "patients": (20, 50, 200), "errors": ("normal", "strongly skewed"),
        },
        coefficients,
        simulations=500,
        keep=is_sensible,
    ),
)  # fmt: skip
