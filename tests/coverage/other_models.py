"""Ratios beside the adjusted model: a higher index (C6), and being reviewed (C7).

The analyses of the reports themselves are run on drawn practices; teeth of one patient are
alike through a normal threshold of likeness `icc`.
"""

from collections.abc import Callable

import numpy as np
import pandas as pd
from scipy import stats
from scipy.optimize import brentq

from lengthwise.analyse.outcome_dose import analyse_index
from lengthwise.analyse.outcome_followup import weights_for_review
from lengthwise.analyse.outcome_frame import Columns
from lengthwise.analyse.outcome_model import Topics
from lengthwise.analyse.rows import ResultRows
from lengthwise.settings import Settings
from lengthwise.statistics.results import Estimate, refused

from .healing import GRID, from_rows, levels_of
from .outcome import ALIKE_LEVEL, LOG_ODDS, SHARES, alike, intercept_for, patients_of, tried_of
from .study import Cell, Study, Tried

CONTRASTS = ("short", "beyond")
# Share of index 2 and above, 4 and above, 5, as odds against 3 and above.
CUTS = np.log([3.0, 0.4, 0.1])
# What goes with being reviewed, on the scale of log odds; clinicians are apart too.
REVIEW = {"short": 0.0, "beyond": 0.3, "lesion": 1.0, "molar": -0.4, "retreatment": 0.2}
BY_CLINICIAN = np.array([0.0, 0.3, -0.3])
Found = dict[str, Estimate]


def teeth(
    cell: Cell, random: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return patient, level, lesion and each tooth's place in the order of outcomes."""
    patient = patients_of(cell, random)
    level = levels_of(patient, random)
    lesion = stats.norm.cdf(alike(patient, ALIKE_LEVEL, random)) < SHARES["lesion"]
    rank = stats.norm.cdf(alike(patient, cell["icc"], random))
    return patient, level, lesion.astype(float), rank


def exposure_of(level: np.ndarray) -> np.ndarray:
    """Return one column a contrast."""
    return np.column_stack([(level == name).astype(float) for name in CONTRASTS])


def columns_of(
    outcome: np.ndarray, patient: np.ndarray, level: np.ndarray, lesion: np.ndarray
) -> Columns:
    """Return the columns as the analyses take them."""
    return Columns(
        outcome, patient, level, ("within", *CONTRASTS), exposure_of(level),
        lesion[:, None].copy(), ("lesion",), (),
    )  # fmt: skip


def chance(log_odds: np.ndarray) -> np.ndarray:
    return np.asarray(1 / (1 + np.exp(-log_odds)))


def log_odds_of(cell: Cell, level: np.ndarray, lesion: np.ndarray) -> np.ndarray:
    """Return the log odds of not healed, of which the wanted share of all teeth is."""
    design = np.column_stack([exposure_of(level), lesion])
    return np.asarray(intercept_for(cell["share"]) + design @ LOG_ODDS)


def of_index(cell: Cell, random: np.random.Generator) -> Found:
    """Return the odds ratios of a higher index; not healed is 3 and above."""
    patient, level, lesion, rank = teeth(cell, random)
    middle = log_odds_of(cell, level, lesion)
    steps = np.column_stack([middle, *(middle + cut for cut in CUTS)])
    index = 1 + (rank[:, None] < chance(steps)).sum(axis=1)
    rows, known = ResultRows(), pd.DataFrame({"pai": index})
    columns = columns_of((index >= 3).astype(float), patient, level, lesion)
    analyse_index(rows, Topics("outcome", ""), known, columns, Settings())
    return {f"odds ratio, {name}": from_rows(rows, "odds_ratio", name) for name in CONTRASTS}


def review_intercept(share: float) -> float:
    """Return the intercept at which so large a share of all teeth is reviewed."""
    random = np.random.default_rng(1)
    n = 200_000
    hit = random.random((n, 3)) < (SHARES["lesion"], 0.4, 0.25)
    odds = hit @ np.array([REVIEW[name] for name in ("lesion", "molar", "retreatment")])
    odds = odds + REVIEW["beyond"] * (random.random(n) < SHARES["beyond"])
    odds = odds + random.choice(BY_CLINICIAN, n)
    return float(brentq(lambda a: chance(a + odds).mean() - share, -15, 15))


def of_review(cell: Cell, random: np.random.Generator) -> Found:
    """Return the odds ratios of being reviewed, of level and of case-mix."""
    patient, level, lesion, rank = teeth(cell, random)
    molar, retreatment = random.random((2, patient.size)) < np.array([[0.4], [0.25]])
    clinician = random.integers(0, BY_CLINICIAN.size, patient.max() + 1)[patient]
    parts = {
        "short": level == "short", "beyond": level == "beyond", "lesion": lesion,
        "molar": molar, "retreatment": retreatment,
    }  # fmt: skip
    odds = cell["intercept"] + BY_CLINICIAN[clinician]
    odds = odds + sum(REVIEW[name] * part for name, part in parts.items())
    frame = pd.DataFrame(
        {
            "level": level, "has_lesion": lesion, "patient_id": patient,
            "tooth_type": np.where(molar, "molar", "premolar"),
            "treatment_type": np.where(retreatment, "retreatment", "primary"),
            "clinician_id": clinician, "months_from_treatment": 12.0,
            "is_restoration_adequate": 1.0,
            "is_not_healed": pd.array(np.where(rank < chance(odds), 0.0, np.nan), "Float64"),
        }
    )  # fmt: skip
    found = weights_for_review(frame, list(CONTRASTS))
    nothing = refused(found.reason, method=found.method)
    has = found.model.terms if found.valid else ()
    return {
        f"odds ratio of review, {name}": found.model.ratio(name) if name in has else nothing
        for name in REVIEW
    }


def over_simulations(
    method: str, one: Callable[[Cell, np.random.Generator], Found], truth: dict[str, float]
) -> Callable[[Cell, int, np.random.Generator], list[Tried]]:
    """Return what tries one analysis over the simulations of a cell."""

    def simulate(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
        if "reviewed" in cell:
            cell = {**cell, "intercept": review_intercept(cell["reviewed"])}
        found = [one(cell, random) for _ in range(simulations)]
        return [
            tried_of(method, name, [(true, values[name]) for values in found])
            for name, true in truth.items()
        ]

    return simulate


BY_LEVEL = {
    f"odds ratio, {name}": float(np.exp(odds))
    for name, odds in zip(CONTRASTS, LOG_ODDS[:2], strict=True)
}
OF_REVIEW = {f"odds ratio of review, {name}": float(np.exp(REVIEW[name])) for name in REVIEW}
STUDIES = (
    Study(
        "outcome_index",
        "C6: odds ratios of a higher periapical index by level",
        GRID | {"share": (0.1, 0.3)},
        over_simulations("proportional odds", of_index, BY_LEVEL),
        simulations=300,
    ),
    Study(
        "outcome_review",
        "C7: odds ratios of being reviewed by level and case-mix",
        GRID | {"reviewed": (0.5, 0.8)},
        over_simulations("review model", of_review, OF_REVIEW),
        simulations=500,
    ),
)
