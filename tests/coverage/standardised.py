"""Standardised risk, its ratio and the share of events that goes with a level (C4)."""

import numpy as np

from lengthwise.statistics.outcome.standardisation import designs_by_level, standardised_risks
from lengthwise.statistics.results import Estimate, refused

from .outcome import (
    LEVELS,
    LOG_ODDS,
    Practice,
    chosen,
    intercept_for,
    practice,
    tried_of,
)
from .outcome_crude import names_of
from .study import Cell, Study, Tried

METHOD = "as in the report"
RISK, RATIO, SHARE = "risk, beyond", "ratio of risk, beyond", "share of events, beyond"


def truths(cell: Cell, made: Practice) -> dict[str, float]:
    """Return the three over this practice's teeth."""
    _, design, _, risk = made
    base = intercept_for(cell["share"]) + LOG_ODDS[2] * design[:, 3]
    within, beyond = (1 / (1 + np.exp(-(base + add))) for add in (0.0, LOG_ODDS[1]))
    own = design[:, 2] == 1
    return {
        RISK: float(beyond.mean()),
        RATIO: float(beyond.mean() / within.mean()),
        SHARE: float((risk - within)[own].sum() / risk.sum()),
    }


def as_in_the_report(made: Practice) -> dict[str, Estimate]:
    """Return the three as the report gives them; its sentence stands beside their table."""
    found, design = chosen(made)
    risks = standardised_risks(
        found.fit, designs_by_level(design, LEVELS), reference="within", design=design,
        level_of_row=list(names_of(design)),
    ) if found.fit.valid else None  # fmt: skip
    if risks is None or not risks.valid:
        return dict.fromkeys((RISK, RATIO, SHARE), refused("no fit", method=METHOD))
    row = risks.row("beyond")
    values = {RISK: row.risk, RATIO: row.ratio, SHARE: row.share_of_events}
    return {name: value for name, value in values.items() if value is not None}


def standardised(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try the three over the simulations of a cell."""
    kept: dict[str, list[tuple[float, Estimate]]] = {name: [] for name in (RISK, RATIO, SHARE)}
    for _ in range(simulations):
        made = practice(cell, random)
        truth = truths(cell, made)
        for name, value in as_in_the_report(made).items():
            kept[name].append((truth[name], value))
    return [tried_of(METHOD, name, pairs) for name, pairs in kept.items()]


STUDIES = (
    Study(
        "outcome_standardised",
        "C4: standardised risk, its ratio, and the share of events that goes with a level",
        {
            "patients": (50, 100, 200, 500), "teeth_a_patient": (1.3, 4.0),
            "share": (0.03, 0.1, 0.3),
        },
        standardised,
        simulations=200,
    ),
)  # fmt: skip
