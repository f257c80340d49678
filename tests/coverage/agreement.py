"""Bias and limits of agreement: by patient as the report gives them, and for single pairs."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy import stats

from lengthwise.statistics.agreement.clustered_limits import clustered_limits
from lengthwise.statistics.agreement.limits import limits_of_agreement
from lengthwise.statistics.results import Estimate

from .at_once import limits_at_once
from .practices import Layout, differences, layout
from .study import Cell, Study, Tried

BIAS_MM, SD_MM = 0.1, 0.5
REACH = 1.959963984540054
# How many practices of a cell go through the product's own front door as well.
CHECKED = 3
VALUES_AT_ONCE = 400_000
# The words by which a result says that its interval holds less than it should.
SAID = "in simulation"
TRUTH = {
    "bias": BIAS_MM,
    "sd": SD_MM,
    "lower limit": BIAS_MM - REACH * SD_MM,
    "upper limit": BIAS_MM + REACH * SD_MM,
    "share between the limits": 0.95,
}
Found = dict[str, Estimate]
Method = Callable[[np.ndarray, Layout, int], Found]


def by_interval(interval: str) -> Method:
    """Return the limits by patient with one of their intervals."""

    def method(difference: np.ndarray, where: Layout, turn: int) -> Found:
        found = clustered_limits(
            difference, np.zeros(len(difference)), patient=where.patient, tooth=where.tooth,
            interval=interval, seed=turn,
        )  # fmt: skip
        parts = (found.bias, found.standard_deviation, found.lower, found.upper)
        return dict(zip(TRUTH, parts, strict=False))

    return method


def exact(difference: np.ndarray, where: Layout, turn: int) -> Found:
    """Return the limits of independent pairs, with the exact interval of either limit."""
    found = limits_of_agreement(
        difference, np.zeros(len(difference)), interval="exact_one_limit"
    )
    return {"bias": found.bias, "lower limit": found.lower, "upper limit": found.upper}


def exact_pair(difference: np.ndarray, where: Layout, turn: int) -> Found:
    """Return the share of normal differences that the exact limits hold together.

    That is what the interval of the pair is about: its inner ends hold too few, its outer
    ends enough.
    """
    found = limits_of_agreement(difference, np.zeros(len(difference)), interval="exact")
    ends = (
        (found.lower.estimate, found.upper.estimate), (found.lower.upper, found.upper.lower),
        (found.lower.lower, found.upper.upper),
    )  # fmt: skip
    held = (stats.norm.cdf((np.array(end) - BIAS_MM) / SD_MM) for end in ends)
    point, inner, outer = (float(one[1] - one[0]) for one in held)
    limit = found.lower
    return {
        "share between the limits": replace(limit, estimate=point, lower=inner, upper=outer)
    }


def by_patient_at_once(
    cell: Cell, simulations: int, generator: np.random.Generator
) -> list[Tried]:
    """Return the intervals that the report gives, of all simulations in one go.

    The first practices are worked out again by `clustered_limits` itself and must come out
    alike.
    """
    where = layout(cell["canals"], cell["patients"])
    drawn = _drawn(cell, where, simulations, generator)
    parts = np.array_split(drawn, max(1, drawn.size // VALUES_AT_ONCE))
    ends = np.concatenate([limits_at_once(part, where, REACH) for part in parts])
    product = by_interval("jackknife")
    for turn in range(min(CHECKED, simulations)):
        found = product(drawn[turn], where, turn)
        own = np.array([(one.estimate, one.lower, one.upper) for one in found.values()])
        if not np.allclose(own, ends[turn], rtol=1e-9, atol=1e-9):
            raise RuntimeError(f"practice {turn} of {dict(cell)} differs from the product.")
    # What the product says about simulation hangs on the layout, not on the values.
    return [
        Tried(
            "jackknife", name, TRUTH[name], *ends[:, place].T,
            np.full(simulations, SAID in one.reason),
        )
        for place, (name, one) in enumerate(found.items())
    ]  # fmt: skip


def _drawn(
    cell: Cell, where: Layout, simulations: int, generator: np.random.Generator
) -> np.ndarray:
    whole = differences(where, cell["icc"], cell["errors"], generator, simulations)
    return BIAS_MM + SD_MM * whole


def study_of(methods: dict[str, Method]) -> Callable[..., list[Tried]]:
    """Return how a cell is tried with these methods, all on the same differences."""

    def simulate(cell: Cell, simulations: int, generator: np.random.Generator) -> list[Tried]:
        where = layout(cell["canals"], cell["patients"])
        drawn = _drawn(cell, where, simulations, generator)
        tried = []
        for name, method in methods.items():
            found = [method(one, where, turn) for turn, one in enumerate(drawn)]
            tried += [
                tried_of(name, quantity, TRUTH[quantity], [one[quantity] for one in found])
                for quantity in found[0]
            ]
        return tried

    return simulate


def tried_of(
    method: str, quantity: str, truth: float | np.ndarray, found: list[Estimate]
) -> Tried:
    """Return the simulations' estimates as arrays; a limit is stated where it says so."""
    ends = np.array([(one.estimate, one.lower, one.upper) for one in found], dtype=float)
    ends[~np.array([one.valid for one in found])] = np.nan
    stated = np.array([SAID in one.reason for one in found])
    return Tried(method, quantity, truth, ends[:, 0], ends[:, 1], ends[:, 2], stated)


def is_sensible(cell: Cell) -> bool:
    # One canal per patient is like no other canal.
    return cell["canals"] != "1" or cell["icc"] == 0.0


PATIENTS = (15, 30, 60, 150, 300)
ERRORS = ("normal", "skewed")
ALONE = {"canals": ("1",), "icc": (0.0,), "patients": PATIENTS}
STUDIES = (
    Study(
        "agreement",
        "A2: limits by patient with the interval that the report gives",
        {
            "canals": ("1", "1, one in ten 2", "2", "4", "8", "1 to 8"),
            "icc": (0.0, 0.2, 0.4, 0.6), "patients": PATIENTS, "errors": ERRORS,
        },
        by_patient_at_once,
        simulations=2000,
        keep=is_sensible,
    ),
    Study(
        "agreement_mover",
        "A2: limits by patient with MOVER, on request",
        {
            "canals": ("1", "1, one in ten 2", "2", "1 to 8"), "icc": (0.0, 0.4),
            "patients": (15, 60, 300), "errors": ERRORS,
        },
        study_of({"MOVER": by_interval("mover")}),
        simulations=500,
        keep=is_sensible,
    ),
    Study(
        "agreement_bootstrap",
        "A2: limits by patient with the bootstrap, on request",
        {
            "canals": ("1", "1 to 8"), "icc": (0.0, 0.4), "patients": (15, 30, 60, 150),
            "errors": ERRORS,
        },
        study_of({"bootstrap": by_interval("bootstrap")}),
        simulations=500,
        keep=is_sensible,
    ),
    Study(
        "agreement_independent",
        "A1: limits of independent pairs, exact for either limit by itself",
        ALONE | {"errors": ERRORS},
        study_of({"exact, one limit": exact}),
        simulations=2000,
    ),
    Study(
        "agreement_pair",
        "A1: limits of independent normal pairs, exact for both together",
        ALONE | {"errors": ("normal",)},
        study_of({"exact, both limits": exact_pair}),
        simulations=2000,
    ),
)  # fmt: skip
