"""Whether the filling level goes with healing here, worded as association throughout."""

import pandas as pd

from lengthwise.analyse.outcome_canal import analyse_one_canal
from lengthwise.analyse.outcome_crude import analyse_crude
from lengthwise.analyse.outcome_dose import analyse_dose, analyse_index
from lengthwise.analyse.outcome_followup import analyse_follow_up
from lengthwise.analyse.outcome_frame import (
    REFERENCE,
    expected_levels,
    known_outcomes,
    model_columns,
)
from lengthwise.analyse.outcome_imputed import analyse_imputed
from lengthwise.analyse.outcome_model import Topics, add_adjusted, add_risks, fit_adjusted
from lengthwise.analyse.outcome_split import analyse_split
from lengthwise.analyse.outcome_time import analyse_time
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.results import refused

# Measure and unit of the first number of each analysis that rests on the comparison of levels.
_FIRST = {
    "C2": ("odds_ratio", "odds_ratio"),
    "C4": ("risk_difference", "risk_difference"),
}


def analyse_outcomes(
    rows: ResultRows, outcomes: pd.DataFrame, period: str, settings: Settings,
    times: pd.DataFrame | None = None, fills: pd.DataFrame | None = None,
) -> None:  # fmt: skip
    """Write C1 to C10: not healed (strict) by filling level of the tooth's worst canal.

    `fills` holds the level of every canal, from which one a tooth is drawn as a check.
    """
    # Patients as numbers once, so that no step compares their codes as text again.
    outcomes = outcomes.assign(patient_id=pd.factorize(outcomes["patient_id"])[0])
    known = known_outcomes(outcomes)
    _add_flow(rows, outcomes, len(known), period)
    topics = Topics("outcome", period)
    levels = expected_levels(settings)
    analyse_follow_up(rows, topics, outcomes, settings)
    if times is not None:
        times = times.assign(patient_id=pd.factorize(times["patient_id"])[0])
        analyse_time(rows, topics, times, outcomes, settings)
    if known.empty:
        _refuse(rows, topics, levels, "no tooth with a known level has a countable review")
        return
    analyse_crude(rows, known, topics.of("C1"), levels, settings)
    analyse_split(rows, known, topics.of("C1"), levels, settings)
    if REFERENCE not in set(known["level"]):
        reason = f"no tooth filled {REFERENCE} has a countable review: nothing to compare with"
        _refuse(rows, topics, levels, reason)
        return
    _analyse_models(rows, topics, known, levels, settings, fills)


def _analyse_models(
    rows: ResultRows, topics: Topics, known: pd.DataFrame, levels: tuple[str, ...],
    settings: Settings, fills: pd.DataFrame | None,
) -> None:  # fmt: skip
    columns = model_columns(known)
    absent = [name for name in levels if name not in columns.levels]
    for name in absent:
        _refuse(rows, topics, (REFERENCE, name), f"no tooth filled {name} was reviewed")
    fit = fit_adjusted(columns, settings)
    if fit is None:
        return
    add_adjusted(rows, topics, columns, fit, settings)
    if fills is not None:
        analyse_one_canal(rows, topics.of("C2"), known, fills, columns, fit, settings)
    add_risks(rows, topics, columns, fit, settings)
    analyse_dose(rows, topics, known, columns, settings)
    analyse_index(rows, topics, known, columns, settings)
    analyse_imputed(rows, topics, columns, fit, settings)


def _add_flow(rows: ResultRows, outcomes: pd.DataFrame, n_known: int, period: str) -> None:
    topic = Topic("flow", "flow", period)
    for name, count in outcomes["outcome"].value_counts().sort_index().items():
        rows.add_count(topic, f"outcome_{name}", int(count), denominator=len(outcomes))
    rows.add_count(topic, "teeth_in_outcome_analysis", n_known, denominator=len(outcomes))


def _refuse(rows: ResultRows, topics: Topics, levels: tuple[str, ...], reason: str) -> None:
    for analysis, (measure, unit) in _FIRST.items():
        for level in levels:
            if level != REFERENCE:
                value = refused(reason, method="not fitted")
                rows.add(
                    topics.of(analysis), measure, level, value, unit=unit, reference=REFERENCE
                )
