"""C8: how long teeth are kept, and between which reviews a lesion healed."""

import numpy as np
import pandas as pd

from lengthwise.analyse.outcome_frame import LEVELS, REFERENCE
from lengthwise.analyse.outcome_model import Topics
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.discrete_time import fit_discrete_time, person_periods
from lengthwise.statistics.outcome.survival import SurvivalCurve, kaplan_meier
from lengthwise.statistics.outcome.turnbull import turnbull
from lengthwise.statistics.results import Estimate, refused

DAYS_IN_MONTH = 30.4375
MONTHS = (12, 24, 36, 48)
NAN = float("nan")
FIGURE = "tooth_survival"


def analyse_time(
    rows: ResultRows, topics: Topics, times: pd.DataFrame, outcomes: pd.DataFrame,
    settings: Settings,
) -> None:  # fmt: skip
    """Write survival of teeth, healing between reviews, and the yearly odds of healing."""
    topic = topics.of("C8")
    if times.empty:
        value = refused("no tooth has a review", method="Kaplan-Meier")
        rows.add(topic, "survival", "any loss", value, unit="proportion")
        return
    _add_survival(rows, topic, times, settings)
    lesions = times[times["has_lesion"].fillna(False).astype(bool) & times["is_judged"]]
    _add_healing(rows, topic, lesions)
    _add_yearly(rows, topic, lesions, outcomes, settings)


def _add_survival(
    rows: ResultRows, topic: Topic, times: pd.DataFrame, settings: Settings
) -> None:
    lost = pd.to_numeric(times["lost_days"]).to_numpy(dtype=float, na_value=np.nan)
    is_lost = np.isfinite(lost)
    days = np.where(is_lost, lost, times["last_seen_days"].to_numpy(dtype=float))
    endodontic = is_lost & times["is_lost_endodontic"].to_numpy(dtype=bool)
    for subject, event in (("any loss", is_lost), ("endodontic loss", endodontic)):
        curve = kaplan_meier(
            days / DAYS_IN_MONTH, event.astype(float), times=MONTHS,
            cluster=times["patient_id"].to_numpy(object), level=settings.confidence_level,
        )  # fmt: skip
        _add_curve(rows, topic, subject, curve)


def _add_curve(rows: ResultRows, topic: Topic, subject: str, curve: SurvivalCurve) -> None:
    for point in curve.points:
        rows.add(
            topic, f"survival_{point.time:g}_months", subject, point.survival,
            unit="proportion", numerator=point.events, denominator=point.n_risk,
            n_clusters=curve.n_clusters,
        )  # fmt: skip
    steps = zip(curve.event_times, curve.survival, curve.n_risk, strict=True)
    for months, share, at_risk in steps:
        rows.point(FIGURE, subject, "survival", months, share, n=at_risk)


def _add_healing(rows: ResultRows, topic: Topic, lesions: pd.DataFrame) -> None:
    healed = pd.to_numeric(lesions["first_healed_days"]).to_numpy(dtype=float, na_value=np.inf)
    left = lesions["last_unhealed_days"].to_numpy(dtype=float)
    found = turnbull(left / DAYS_IN_MONTH, healed / DAYS_IN_MONTH, times=MONTHS)
    note = "no interval: an estimate of the curve alone"
    seen = np.concatenate([left, healed[np.isfinite(healed)]]) / DAYS_IN_MONTH
    for months, still in zip(found.times, found.survival, strict=True):
        reason = found.reason
        if found.valid and months > seen.max():
            reason = "nobody was followed this long"
        value = Estimate(
            1 - still, NAN, NAN, 0.95, found.n_used, found.n_missing, found.method,
            not reason, reason or note,
        )  # fmt: skip
        rows.add(
            topic, f"healed_by_{months:g}_months", "teeth with a lesion", value,
            unit="proportion", denominator=found.n_used,
        )  # fmt: skip


def _add_yearly(
    rows: ResultRows, topic: Topic, lesions: pd.DataFrame, outcomes: pd.DataFrame,
    settings: Settings,
) -> None:  # fmt: skip
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
    patient = usable["patient_id"].to_numpy(object)
    fit = fit_discrete_time(
        periods.event, periods.period, exposure[periods.unit], terms=contrasts,
        cluster=patient[periods.unit], level=settings.confidence_level,
    )  # fmt: skip
    for name in contrasts:
        rows.add(
            topic, "odds_ratio_of_healing_in_a_year", name, fit.ratio(name), unit="odds_ratio",
            reference=REFERENCE, denominator=fit.n_used, n_clusters=fit.n_clusters,
        )  # fmt: skip
