"""Shares within a tolerance and their paired difference (A6) in known practices."""

import numpy as np

from lengthwise.statistics.agreement.shares import is_within, paired_shares
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import Estimate

from .agreement import is_sensible, tried_of
from .practices import Layout, differences, layout
from .study import Cell, Study, Tried

TOLERANCE_MM = 0.5
# Bias and SD of two methods: nine and seven in ten of normal errors lie within tolerance.
FIRST, SECOND = (0.0, 0.3), (0.1, 0.47)
# Both lean on one confirmed length: this much of each one's spread is shared.
SHARED = 0.3
LEAST = 10
# Patients drawn for the truth: its own error is 0.0005.
MANY = 400_000


def lie_within(
    where: Layout, cell: Cell, random: np.random.Generator, practices: int
) -> tuple[np.ndarray, np.ndarray]:
    """Return of two methods which canals (practices, n) lie within the tolerance."""
    parts = [
        differences(where, cell["icc"], cell["errors"], random, practices) for _ in range(3)
    ]
    found = []
    for own, (bias, sd) in zip(parts[:2], (FIRST, SECOND), strict=True):
        whole = np.sqrt(SHARED) * parts[2] + np.sqrt(1 - SHARED) * own
        found.append(is_within(bias + sd * whole, TOLERANCE_MM).astype(float))
    return found[0], found[1]


def truths(cell: Cell) -> tuple[float, float]:
    """Return both shares of very many canals: canals of a patient differ in no share."""
    random = np.random.default_rng(1)
    two = lie_within(layout("1 to 5", 1000), cell, random, MANY // 1000)
    return float(two[0].mean()), float(two[1].mean())


def within(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try the share of one method and the difference of two on the same canals."""
    where = layout(cell["canals"], cell["patients"])
    first, second = lie_within(where, cell, random, simulations)
    first_share, second_share = truths(cell)
    shares: list[Estimate] = []
    gaps: list[Estimate] = []
    for own, other in zip(first, second, strict=True):
        share = clustered_proportion_of_rows(own, where.patient)
        shares.append(share.wilson_icc if share.wilson_icc.valid else share.naive)
        gaps.append(
            paired_shares(own, other, where.patient, minimum_denominator=LEAST).difference
        )
    return [
        tried_of("Wilson, design effect from ICC", "share within 0.5 mm", first_share, shares),
        tried_of("by patient", "paired difference", first_share - second_share, gaps),
    ]


STUDIES = (
    Study(
        "agreement_within",
        "A6: share of canals within 0.5 mm and the paired difference of two methods",
        {
            "canals": ("1", "1 or 2", "1 to 5"), "icc": (0.0, 0.3, 0.6),
            "patients": (20, 50, 200), "errors": ("normal", "strongly skewed"),
        },
        within,
        keep=is_sensible,
    ),
)  # fmt: skip
