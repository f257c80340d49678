"""C8: how long teeth are kept."""

import numpy as np
import pandas as pd

from lengthwise.analyse.outcome_healing import DAYS_IN_MONTH, MONTHS, add_healing, add_yearly
from lengthwise.analyse.outcome_model import Topics
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.survival import SurvivalCurve, kaplan_meier
from lengthwise.statistics.results import refused

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
    add_healing(rows, topic, lesions, settings)
    add_yearly(rows, topic, lesions, outcomes, settings)


def _add_survival(
    rows: ResultRows, topic: Topic, times: pd.DataFrame, settings: Settings
) -> None:
    lost = pd.to_numeric(times["lost_days"]).to_numpy(dtype=float, na_value=np.nan)
    is_lost = np.isfinite(lost)
    days = np.where(is_lost, lost, times["last_seen_days"].to_numpy(dtype=float))
    endodontic = is_lost & times["is_lost_endodontic"].to_numpy(dtype=bool)
    months = range(int(days.max() / DAYS_IN_MONTH) + 1)
    for subject, event in (("any loss", is_lost), ("endodontic loss", endodontic)):
        curve = kaplan_meier(
            days / DAYS_IN_MONTH, event.astype(float), times=sorted({*MONTHS, *months}),
            cluster=times["patient_id"].to_numpy(), level=settings.confidence_level,
        )  # fmt: skip
        _add_curve(rows, topic, subject, curve, settings.small_numbers.minimum_denominator)


def _add_curve(
    rows: ResultRows, topic: Topic, subject: str, curve: SurvivalCurve, least: int
) -> None:
    for point in curve.points:
        share = point.survival
        if share.valid and point.n_risk < least:
            few = f"fewer than {least} teeth were followed this long"
            share = refused(few, method=share.method, n_used=share.n_used)
        if point.time in MONTHS:
            rows.add(
                topic, f"survival_{point.time:g}_months", subject, share, unit="proportion",
                numerator=point.events, denominator=point.n_risk, n_clusters=curve.n_clusters,
            )  # fmt: skip
        if share.valid:
            rows.point(
                FIGURE, subject, "survival", point.time, share.estimate, lower=share.lower,
                upper=share.upper, n=point.n_risk,
            )  # fmt: skip
