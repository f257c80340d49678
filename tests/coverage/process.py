"""Process: shares, changes, observed against expected and shrunken ratios in known practices."""

import numpy as np

from lengthwise.statistics.process.observed_expected import observed_expected
from lengthwise.statistics.process.period_change import period_change
from lengthwise.statistics.process.shrinkage_average import averaged_effects
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import Estimate

from .agreement import tried_of
from .practices import layout
from .study import Cell, Study, Tried


def alike(
    share: float | np.ndarray, likeness: float, patient: np.ndarray,
    random: np.random.Generator,
) -> np.ndarray:  # fmt: skip
    """Return 0 and 1 (n,): beta shares by patient, whose cases have this correlation.

    `share` is one number or one for each patient.
    """
    count = int(patient.max()) + 1
    share = np.broadcast_to(np.asarray(share, dtype=float), (count,))
    if likeness:
        total = 1 / likeness - 1
        share = random.beta(share * total, (1 - share) * total)
    return (random.random(patient.size) < share[patient]).astype(float)


def shares(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try the interval of every share of the report: Wilson with a design effect."""
    patient = layout(cell["canals"], cell["patients"]).patient
    found = [
        clustered_proportion_of_rows(
            alike(cell["share"], cell["icc"], patient, random), patient
        ).wilson_icc
        for _ in range(simulations)
    ]
    return [tried_of("Wilson, design effect from ICC", "share", cell["share"], found)]


def changes(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try the change of a share between two periods, each with its own patients."""
    patient = layout(cell["canals"], cell["patients"]).patient
    after = np.arange(cell["patients"]) % 3 == 0
    share = np.where(after, cell["after"], cell["before"])
    found = [
        period_change(
            alike(share, cell["icc"], patient, random), after[patient], patient
        ).change
        for _ in range(simulations)
    ]
    return [tried_of("CR2", "change of share", cell["after"] - cell["before"], found)]


def ratios(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try observed / expected of one clinician, with the design effect estimated as in a run.

    The expected risk is known; the odds of this clinician's events are multiplied.
    """
    canals = layout("1 to 8", cell["patients"]).patient
    own = np.arange(cell["patients"]) % 4 == 0
    expected = cell["share"]
    odds = cell["odds_ratio"] * expected / (1 - expected)
    share = np.where(own, odds / (1 + odds), expected)
    found = []
    for _ in range(simulations):
        event = alike(share, cell["icc"], canals, random)
        effect = clustered_proportion_of_rows(event, canals).inflation
        compared = observed_expected(
            event, np.full(event.size, expected), np.where(own[canals], "own", "others"),
            design_effect=max(float(effect), 1.0) if np.isfinite(effect) else 1.0,
        )  # fmt: skip
        found += [unit.ratio for unit in compared.units if unit.unit == "own"]
    truth = odds / (1 + odds) / expected
    return [tried_of("Wilson over expected share", "observed / expected", truth, found)]


def shrunken(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try the shrunken effect of clinicians drawn anew each time; the first one stands for all."""
    base = np.log(cell["share"] / (1 - cell["share"]))
    units, cases = cell["clinicians"], cell["cases"]
    truth, found = [], []
    for _ in range(simulations):
        effect = random.normal(0, cell["sd"], units)
        sizes = random.integers(cases // 2, 2 * cases, units)
        events = random.binomial(sizes, 1 / (1 + np.exp(-base - effect)))
        fit = averaged_effects(
            events, sizes, np.arange(units), offset=np.full(units, base), against_offset=True
        )
        truth.append(float(effect[0]))
        place = fit.units.index("0")
        ends = (float(part[place]) for part in (fit.effect, fit.lower, fit.upper))
        found.append(Estimate(*ends, 0.95, int(sizes.sum()), 0, "averaged over the spread"))
    return [tried_of("averaged over the spread", "log odds ratio", np.array(truth), found)]


def is_sensible(cell: Cell) -> bool:
    return cell["canals"] != "1" or cell["icc"] == 0.0


def _is_pair(cell: Cell) -> bool:
    """Keep no change, a halving of a small share, and a rise of a large one."""
    return (cell["before"], cell["after"]) in ((0.1, 0.1), (0.2, 0.1), (0.7, 0.85))


STUDIES = (
    Study(
        "process_share",
        "B1: a share over patients with several cases",
        {
            "canals": ("1", "2", "1 to 8"), "icc": (0.0, 0.15, 0.4),
            "patients": (15, 30, 60, 150, 300), "share": (0.05, 0.1, 0.3, 0.5, 0.85),
        },
        shares,
        keep=is_sensible,
    ),
    Study(
        "process_change",
        "B7: change of a share between two periods",
        {
            "canals": ("1", "1 to 8"), "icc": (0.0, 0.15, 0.4), "patients": (30, 60, 150, 300),
            "before": (0.1, 0.2, 0.7), "after": (0.1, 0.85),
        },
        changes,
        keep=lambda cell: is_sensible(cell) and _is_pair(cell),
    ),
    Study(
        "process_observed_expected",
        "B5: observed against expected events of one clinician",
        {
            "patients": (60, 150, 400), "icc": (0.0, 0.15), "share": (0.1, 0.3),
            "odds_ratio": (1.0, 2.0),
        },
        ratios,
    ),
    Study(
        "process_shrunken",
        "B5: shrunken effect of one of several clinicians",
        {
            "clinicians": (5, 7, 12), "cases": (40, 150), "sd": (0.2, 0.5), "share": (0.1, 0.3),
        },
        shrunken,
        simulations=200,
    ),
)  # fmt: skip
