"""When lesions healed (C8): the share by month, and the odds of healing in a year by level.

Patients are due every year and come for all their teeth at once, up to `late_days` late, until
they stay away; where `missed` is above 0 they also miss reviews before that. Teeth of one
patient heal alike through a normal threshold of likeness `icc`.
"""

import numpy as np
import pandas as pd
from scipy import stats

from lengthwise.analyse.outcome_healing import (
    DAYS_IN_MONTH,
    FEWER_DRAWS,
    MONTHS,
    SEED,
    add_yearly,
    healing_months,
)
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.turnbull_bootstrap import turnbull_survival
from lengthwise.statistics.results import Estimate, refused

from .outcome import ALIKE_LEVEL, SHARES, alike, patients_of, tried_of
from .study import Cell, Study, Tried

YEARS, DAYS_IN_YEAR = 4, 365.25
HEALED_IN_THE_END, MEAN_MONTHS = 0.85, 14.0
# Log odds of healing in each year, filled within, and what a level adds.
BY_YEAR = np.log(np.array([0.45, 0.35, 0.25, 0.15]) / np.array([0.55, 0.65, 0.75, 0.85]))
BY_LEVEL = {"short": -0.4, "beyond": -0.6}
YEARLY = "odds_ratio_of_healing_in_a_year"
METHOD = f"Turnbull, {FEWER_DRAWS} draws of patients"


def share_healed(months: np.ndarray) -> np.ndarray:
    """Return the known share healed by so many months."""
    return np.asarray(HEALED_IN_THE_END * -np.expm1(-months / MEAN_MONTHS))


def levels_of(patient: np.ndarray, random: np.random.Generator) -> np.ndarray:
    """Return the level of each tooth, alike within patients."""
    place = stats.norm.cdf(alike(patient, ALIKE_LEVEL, random))
    names = np.array(["within", "short", "beyond"], dtype=object)
    return names[np.where(place < SHARES["short"], 1, 0) + 2 * (place > 1 - SHARES["beyond"])]


def seen_at_reviews(
    day_healed: np.ndarray, patient: np.ndarray, cell: Cell, random: np.random.Generator
) -> pd.DataFrame:
    """Return what the reviews show of each tooth that came to any, as the store gives it."""
    shape = (patient.max() + 1, YEARS)
    due = DAYS_IN_YEAR * np.arange(1, YEARS + 1)
    days = (due + random.uniform(0, cell["late_days"], shape))[patient]
    came = (random.random(shape) >= cell["missed"]) & (
        np.arange(YEARS) < random.integers(1, YEARS + 1, shape[0])[:, None]
    )
    healed = days >= day_healed[:, None]
    first = np.where(came[patient] & healed, days, np.inf).min(axis=1)
    last = np.where(came[patient] & ~healed, days, 0.0).max(axis=1)
    frame = pd.DataFrame(
        {
            "treatment_id": np.arange(patient.size), "patient_id": patient,
            "first_healed_days": first, "last_unhealed_days": last,
        }
    )  # fmt: skip
    return frame[came[patient].any(axis=1)]


def of_months(lesions: pd.DataFrame) -> dict[str, Estimate]:
    """Return the share healed by each month; refused where nobody was followed so long."""
    left, right = healing_months(lesions)
    seen = np.where(np.isfinite(right), right, left).max()
    still = turnbull_survival(
        left, right, lesions["patient_id"].to_numpy(), times=MONTHS, n_draws=FEWER_DRAWS,
        seed=SEED,
    )  # fmt: skip
    found = {}
    for months, one in zip(MONTHS, still, strict=True):
        nothing = refused(one.reason or "nobody was followed this long", method=METHOD)
        ends = (1 - one.estimate, max(1 - one.upper, 0.0), min(1 - one.lower, 1.0))
        value = Estimate(*ends, one.level, one.n_used, 0, METHOD)
        found[f"healed by {months} months"] = value if one.valid and months <= seen else nothing
    return found


def healing(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try the share healed by each month over the simulations of a cell."""
    truth = share_healed(np.array(MONTHS, dtype=float))
    found = []
    for _ in range(simulations):
        patient = patients_of(cell, random)
        rank = stats.norm.cdf(alike(patient, cell["icc"], random))
        months = np.full(rank.size, np.inf)
        heals = rank < HEALED_IN_THE_END
        months[heals] = -MEAN_MONTHS * np.log1p(-rank[heals] / HEALED_IN_THE_END)
        lesions = seen_at_reviews(months * DAYS_IN_MONTH, patient, cell, random)
        found.append(of_months(lesions))
    return [
        tried_of(METHOD, name, [(float(true), one[name]) for one in found])
        for name, true in zip(found[0], truth, strict=True)
    ]


def from_rows(rows: ResultRows, measure: str, subject: str) -> Estimate:
    """Return one number of an analysis, refused where it has none or no interval."""
    for row in rows.estimates:
        if (row["measure"], row["subject"]) == (measure, subject) and row["upper"] is not None:
            ends = (row["estimate"], row["lower"], row["upper"])
            return Estimate(
                *ends, row["level"], row["n_used"], 0, row["method"], True, row["reason"]
            )
    return refused("not given", method=measure)


def yearly_of(cell: Cell, random: np.random.Generator) -> dict[str, Estimate]:
    """Return the odds ratio of healing in a year by level, in one practice."""
    patient = patients_of(cell, random)
    level = levels_of(patient, random)
    odds = BY_YEAR + np.array([BY_LEVEL.get(name, 0.0) for name in level])[:, None]
    healed_by = 1 - np.cumprod(1 / (1 + np.exp(odds)), axis=1)
    rank = stats.norm.cdf(alike(patient, cell["icc"], random))
    year = 1.0 + (rank[:, None] >= healed_by).sum(axis=1)
    day_healed = np.where(year > YEARS, np.inf, year * DAYS_IN_YEAR)
    lesions = seen_at_reviews(day_healed, patient, cell, random)
    outcomes = pd.DataFrame({"treatment_id": np.arange(level.size), "level": level})
    rows = ResultRows()
    add_yearly(rows, Topic("outcome", "C8", ""), lesions, outcomes, Settings())
    return {name: from_rows(rows, YEARLY, name) for name in BY_LEVEL}


def yearly(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try the odds ratios of healing in a year over the simulations of a cell."""
    found = [yearly_of(cell, random) for _ in range(simulations)]
    return [
        tried_of(
            "by year, patient sandwich", f"odds ratio, {name}",
            [(float(np.exp(BY_LEVEL[name])), one[name]) for one in found],
        )
        for name in BY_LEVEL
    ]  # fmt: skip


GRID = {
    "patients": (50, 100, 300), "teeth_a_patient": (1.4,), "icc": (0.0, 0.5),
}  # fmt: skip
STUDIES = (
    Study(
        "outcome_healing",
        "C8: share of lesions healed by 12 to 48 months, seen between reviews",
        GRID | {"missed": (0.2,), "late_days": (30, 90)},
        healing,
        simulations=200,
        # Reviews nearly in time are looked at in small practices: the draws take their time.
        keep=lambda cell: (
            cell["late_days"] == 90 or (cell["icc"] > 0 and cell["patients"] < 300)
        ),
    ),
    Study(
        "outcome_yearly",
        "C8: odds of healing in a year of review by level",
        GRID | {"missed": (0.0, 0.2), "late_days": (90,)},
        yearly,
        simulations=300,
    ),
)
