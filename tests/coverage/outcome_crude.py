"""Outcome: crude shares and contrasts, weighted differences and survival, in known practices.

The same practices as for adjusted ratios. Teeth with a lesion come back more often, and being
reviewed depends on nothing else. Time to loss is exponential with a known share lost by 36
months; teeth of one patient are alike through a normal threshold.
"""

from collections.abc import Callable

import numpy as np
from scipy import stats

from lengthwise.statistics.outcome.crude_table import crude_table_from_rows
from lengthwise.statistics.outcome.followup_table import followup_by_group
from lengthwise.statistics.outcome.review_weights import review_weights
from lengthwise.statistics.outcome.survival import kaplan_meier
from lengthwise.statistics.outcome.weighted_risks import weighted_risk_difference
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import Estimate, refused

from .outcome import ALIKE_OUTCOME, LOG_ODDS, SHARES, Practice, alike, intercept_for, practice
from .outcome import tried_of as tried
from .study import Cell, Study, Tried

NAMES = np.array(["within", "short", "beyond"], dtype=object)
RETURN_LOG_ODDS = (-0.2, 1.2)
MONTHS = 36.0
Found = dict[tuple[str, str], Estimate]


def truths(cell: Cell) -> dict[str, float]:
    """Return the risks by level and their contrasts in all teeth, and the share kept."""
    at = np.array([0.0, LOG_ODDS[0], LOG_ODDS[1]])[:, None] + np.array([0.0, LOG_ODDS[2]])
    risks = 1 / (1 + np.exp(-(intercept_for(cell["share"]) + at)))
    within, short, beyond = risks @ [1 - SHARES["lesion"], SHARES["lesion"]]
    odds = [risk / (1 - risk) for risk in (within, short, beyond)]
    came = 1 / (1 + np.exp(-np.array([RETURN_LOG_ODDS[0], sum(RETURN_LOG_ODDS)])))
    return {
        "share, beyond": float(beyond),
        "difference, short": float(short - within),
        "difference, beyond": float(beyond - within),
        "odds ratio, beyond": float(odds[2] / odds[0]),
        "risk ratio, beyond": float(beyond / within),
        "share reviewed": float(came @ [1 - SHARES["lesion"], SHARES["lesion"]]),
        "kept to 36 months": 1 - cell["share"],
    }


def names_of(design: np.ndarray) -> np.ndarray:
    """Return the level of each row of the design."""
    return NAMES[(design[:, 1] + 2 * design[:, 2]).astype(int)]


def crude(made: Practice, random: np.random.Generator, cell: Cell) -> Found:
    """Return shares and contrasts of the crude table.

    The report's share of a level allows for teeth of one patient; its contrasts take teeth as
    independent.
    """
    outcome, design, patient, _ = made
    table = crude_table_from_rows(
        names_of(design), outcome, levels=list(NAMES), reference="within"
    )
    short, beyond = table.row("short"), table.row("beyond")
    own = design[:, 2] == 1
    by_patient = clustered_proportion_of_rows(outcome[own], patient[own])
    values = {
        ("Wilson, teeth as independent", "share, beyond"): beyond.share,
        ("Wilson, design effect", "share, beyond"): by_patient.wilson_icc,
        ("Newcombe", "difference, short"): short.risk_difference,
        ("Newcombe", "difference, beyond"): beyond.risk_difference,
        ("Woolf", "odds ratio, beyond"): beyond.odds_ratio,
        ("Katz", "risk ratio, beyond"): beyond.risk_ratio,
    }
    return {key: value for key, value in values.items() if value is not None}


def reviewed(made: Practice, random: np.random.Generator, cell: Cell) -> Found:
    """Return the difference among teeth reviewed with weights and without, and their share."""
    outcome, design, patient, _ = made
    odds = RETURN_LOG_ODDS[0] + RETURN_LOG_ODDS[1] * design[:, 3]
    seen = random.random(outcome.size) < 1 / (1 + np.exp(-odds))
    found = review_weights(
        seen, design[:, 1:3], design[:, 3:], exposure_terms=("short", "beyond"),
        covariate_terms=("lesion",),
    )  # fmt: skip
    names = names_of(design)
    exposed = np.select([names == "beyond", names == "within"], [1.0, 0.0], np.nan)
    known = np.where(seen, outcome, np.nan)
    quantity = "difference, beyond"
    values: Found = {}
    for method, weights in (
        ("weighted", found.weights),
        ("unweighted", np.where(seen, 1.0, np.nan)),
    ):
        nothing = refused(found.reason, method=method)
        values[method, quantity] = values[f"{method}, Wald", quantity] = nothing
        if found.valid:
            item = weighted_risk_difference(known, exposed, weights, cluster=patient)
            values[method, quantity] = item.score_difference
            values[f"{method}, Wald", quantity] = item.difference
    table = followup_by_group(seen, np.full(seen.size, "all"), variable="all", cluster=patient)
    values["Wilson, design effect", "share reviewed"] = table.rows[0].share
    return values


def kept(made: Practice, random: np.random.Generator, cell: Cell) -> Found:
    """Return survival to 36 months with the interval by patient and Greenwood's."""
    patient = made[2]
    rank = stats.norm.sf(alike(patient, ALIKE_OUTCOME, random))
    time = np.log(rank) / np.log(1 - cell["share"]) * MONTHS
    end = random.uniform(12, 72, time.size)
    curve = kaplan_meier(
        np.minimum(time, end), (time <= end).astype(float), times=(MONTHS,), cluster=patient
    )
    point = curve.points[0]
    return {
        ("Kaplan-Meier by patient", "kept to 36 months"): point.survival,
        ("Kaplan-Meier, Greenwood", "kept to 36 months"): point.greenwood,
    }


PARTS: tuple[Callable[[Practice, np.random.Generator, Cell], Found], ...] = (
    crude, reviewed, kept,
)  # fmt: skip


def try_crude(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Return every quantity over the simulations of a cell."""
    truth = truths(cell)
    found: dict[tuple[str, str], list[tuple[float, Estimate]]] = {}
    for _ in range(simulations):
        made = practice(cell, random)
        for part in PARTS:
            for key, value in part(made, random, cell).items():
                found.setdefault(key, []).append((truth[key[1]], value))
    return [tried(method, quantity, pairs) for (method, quantity), pairs in found.items()]


STUDIES = (
    Study(
        "outcome_crude",
        "C1, C7, C8: crude and weighted outcome by level, and survival",
        {
            "patients": (50, 200, 500),
            "teeth_a_patient": (1.3, 4.0),
            "share": (0.03, 0.1, 0.3),
        },
        try_crude,
        simulations=500,
    ),
)
