"""Repeated readings (A3) and each method's own error (A4) in known practices."""

import numpy as np

from lengthwise.statistics.agreement.method_ranking import MethodError, method_errors
from lengthwise.statistics.agreement.replicates import repeatability
from lengthwise.statistics.results import Estimate

from .agreement import is_sensible, tried_of
from .practices import differences, layout, noise
from .study import Cell, Study, Tried

WITHIN_SD_MM = 0.3
METHODS = ("first", "second", "third")
OWN_SD_MM = np.array([0.3, 0.5, 0.8])
BIAS_MM = np.array([0.0, 0.2, -0.2])
LENGTH_SD_MM = 2.0
# What the report asks for before it prints such a number.
LEAST = 10


def repeats(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try the SD of two readings of each canal; patients differ in it by `unlike` (log SD)."""
    where = layout(cell["canals"], cell["patients"])
    subject, patient = (np.repeat(one, 2) for one in (np.arange(where.n_canals), where.patient))
    unlike, found = cell["unlike"], []
    for _ in range(simulations):
        # The mean of the squares is 1.
        own = np.exp(unlike * random.standard_normal(cell["patients"]) - unlike**2)
        error = WITHIN_SD_MM * own[patient] * noise(random, patient.size, cell["errors"])
        length = random.normal(20, LENGTH_SD_MM, where.n_canals)[subject]
        found.append(
            repeatability(
                length + error, subject, patient=patient, minimum_subjects=LEAST
            ).within_subject_sd
        )
    return [tried_of("patient jackknife", "SD of repeats", WITHIN_SD_MM, found)]


def own_errors(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try the own SD and the place of the most and the least precise of three, and a bias."""
    where = layout(cell["canals"], cell["patients"])
    drawn = [
        differences(where, cell["icc"], cell["errors"], random, simulations) for _ in METHODS
    ]
    error = np.stack(drawn, axis=-1) * OWN_SD_MM + BIAS_MM
    found: dict[str, list[Estimate]] = {}
    for turn in range(simulations):
        length = random.normal(20, LENGTH_SD_MM, where.n_canals)
        fit = method_errors(
            length[:, None] + error[turn], names=METHODS, patient=where.patient,
            minimum_rows=LEAST,
        )  # fmt: skip
        first, _, last = fit.methods
        for quantity, value in (
            ("own SD, most precise", first.standard_deviation),
            ("own SD, least precise", last.standard_deviation),
            ("relative bias", last.bias),
            ("place, most precise", _place(first)),
            ("place, least precise", _place(last)),
        ):
            found.setdefault(quantity, []).append(value)
    truth = dict(zip(found, (OWN_SD_MM[0], OWN_SD_MM[-1], BIAS_MM[-1], 1, 3), strict=True))
    return [
        tried_of("Grubbs", quantity, float(truth[quantity]), values)
        for quantity, values in found.items()
    ]


def _place(one: MethodError) -> Estimate:
    """Return the place by precision as the report gives it."""
    return Estimate(one.rank, one.rank_lower, one.rank_upper, 0.95, 0, 0, "place")


STUDIES = (
    Study(
        "agreement_repeats",
        "A3: SD of repeated readings of one canal",
        {
            "canals": ("1", "1 or 2", "1 to 5"), "unlike": (0.0, 0.4),
            "patients": (10, 20, 50, 200), "errors": ("normal", "strongly skewed"),
        },
        repeats,
    ),
    Study(
        "agreement_own_error",
        "A4: each method's own error with no method as truth",
        {
            "canals": ("1", "1 or 2", "1 to 5"), "icc": (0.0, 0.5),
            "patients": (20, 50, 200), "errors": ("normal", "strongly skewed"),
        },
        own_errors,
        simulations=500,
        keep=is_sensible,
    ),
)  # fmt: skip
