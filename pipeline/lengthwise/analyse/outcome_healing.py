"""C8: between which reviews a lesion healed, and the odds of healing in a year by level."""

from dataclasses import replace

import numpy as np
import pandas as pd

from lengthwise.analyse.outcome_frame import LEVELS, REFERENCE
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.discrete_time import fit_discrete_time, person_periods
from lengthwise.statistics.outcome.turnbull import turnbull
from lengthwise.statistics.outcome.turnbull_bootstrap import turnbull_survival
from lengthwise.statistics.results import Estimate

DAYS_IN_MONTH = 30.4375
MONTHS = (12, 24, 36, 48)
FIGURE = "healing_time"
SUBJECT = "teeth with a lesion"
DRAWS, SEED = 500, 20_240_101
# Of so many teeth fewer draws do: their ends move little.
MANY_TEETH, FEWER_DRAWS = 20_000, 200


def add_healing(
    rows: ResultRows, topic: Topic, lesions: pd.DataFrame, settings: Settings
) -> None:
    """Write the share healed by month, its interval by redrawing patients, and the curve."""
    left, right = healing_months(lesions)
    last = np.where(np.isfinite(right), right, left)
    seen = int(last.max()) if last.size else 0
    grid = sorted({*MONTHS, *range(seen + 1)})
    shares = _shares(left, right, lesions["patient_id"].to_numpy(), grid, settings)
    for months, value in zip(grid, shares, strict=True):
        beyond = "nobody was followed this long" if value.valid and months > seen else ""
        shown = replace(value, valid=not beyond, reason=beyond or value.reason)
        at_risk = int(np.count_nonzero(last >= months))
        if months in MONTHS:
            rows.add(
                topic, f"healed_by_{months:g}_months", SUBJECT,
                shown if value.valid else value, unit="proportion", denominator=at_risk,
            )  # fmt: skip
        if value.valid and not beyond:
            rows.point(
                FIGURE, SUBJECT, "healed", months, value.estimate, lower=value.lower,
                upper=value.upper, n=at_risk,
            )  # fmt: skip


def healing_months(lesions: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Return the months between which each lesion healed, to the nearest whole month.

    Whole months keep the number of distinct intervals small; where both ends fall in one
    month the tooth healed within the next.
    """
    healed = pd.to_numeric(lesions["first_healed_days"]).to_numpy(dtype=float, na_value=np.inf)
    left = np.round(lesions["last_unhealed_days"].to_numpy(dtype=float) / DAYS_IN_MONTH)
    return left, np.maximum(np.round(healed / DAYS_IN_MONTH), left + 1)


def _shares(
    left: np.ndarray, right: np.ndarray, patient: np.ndarray, grid: list[int],
    settings: Settings,
) -> list[Estimate]:  # fmt: skip
    """Return the share healed by each month; an interval that cannot be had is a note."""
    found = turnbull(left, right, times=grid)
    nan = float("nan")
    plain = [
        Estimate(
            1 - still, nan, nan, settings.confidence_level, found.n_used, found.n_missing,
            found.method, found.valid, found.reason,
        )
        for still in found.survival
    ]  # fmt: skip
    if not found.valid:
        return plain
    draws = FEWER_DRAWS if left.size > MANY_TEETH else DRAWS
    drawn = turnbull_survival(
        left, right, patient, times=grid, n_draws=draws, seed=SEED,
        level=settings.confidence_level,
    )  # fmt: skip
    return [_with_ends(*pair) for pair in zip(plain, drawn, strict=True)]


def _with_ends(plain: Estimate, drawn: Estimate) -> Estimate:
    if not drawn.valid:
        return replace(plain, reason=f"no interval: {drawn.reason}")
    lower, upper = max(1 - drawn.upper, 0.0), min(1 - drawn.lower, 1.0)
    return replace(plain, lower=lower, upper=upper, method=drawn.method)


def add_yearly(
    rows: ResultRows, topic: Topic, lesions: pd.DataFrame, outcomes: pd.DataFrame,
    settings: Settings,
) -> None:  # fmt: skip
    """Write the odds of healing in a year of review, each level against the reference."""
    levels = outcomes.set_index("treatment_id")["level"].reindex(lesions["treatment_id"])
    usable = lesions[levels.isin(LEVELS).to_numpy()]
    level = levels[levels.isin(LEVELS)].to_numpy(dtype=object)
    contrasts = [name for name in LEVELS if name != REFERENCE and (level == name).any()]
    if not contrasts or not (level == REFERENCE).any():
        return
    healed = pd.to_numeric(usable["first_healed_days"]).to_numpy(dtype=float, na_value=np.nan)
    event = np.isfinite(healed)
    days = np.where(event, healed, usable["last_unhealed_days"].to_numpy(dtype=float))
    # Reviews fall due yearly and come late, so a review belongs to the nearest year.
    years = np.where(event, np.maximum(np.round(days / 365.25), 1), np.round(days / 365.25))
    periods = person_periods(
        years, event.astype(float), period_length=1.0, n_periods=int(max(years.max(), 1))
    )
    exposure = np.column_stack([(level == name).astype(float) for name in contrasts])
    patient = usable["patient_id"].to_numpy()
    fit = fit_discrete_time(
        periods.event, periods.period, exposure[periods.unit], terms=contrasts,
        cluster=patient[periods.unit], level=settings.confidence_level,
    )  # fmt: skip
    for name in contrasts:
        rows.add(
            topic, "odds_ratio_of_healing_in_a_year", name, fit.ratio(name), unit="odds_ratio",
            reference=REFERENCE, denominator=fit.n_used, n_clusters=fit.n_clusters,
        )  # fmt: skip
