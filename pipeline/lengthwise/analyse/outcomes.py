"""Whether the filling level goes with healing here, worded as association throughout."""

import pandas as pd

from lengthwise.analyse.outcome_crude import analyse_crude
from lengthwise.analyse.outcome_frame import (
    REFERENCE,
    Columns,
    expected_levels,
    known_outcomes,
    model_columns,
)
from lengthwise.analyse.outcome_model import Topics, add_adjusted, add_risks, fit_adjusted
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.results import refused

# Measure and unit of the first number of each analysis that rests on the comparison of levels.
_FIRST = {
    "C2": ("odds_ratio", "odds_ratio"),
    "C4": ("risk_difference", "risk_difference"),
}


def analyse_outcomes(
    rows: ResultRows, outcomes: pd.DataFrame, period: str, settings: Settings
) -> None:
    """Write C1 to C4 and C9: not healed (strict) by filling level of the worst canal."""
    known = known_outcomes(outcomes)
    _add_flow(rows, outcomes, len(known), period)
    topics = Topics("outcome", period)
    levels = expected_levels(settings)
    if known.empty:
        _refuse(rows, topics, levels, "no tooth with a known level has a countable review")
        return
    analyse_crude(rows, known, topics.of("C1"), levels, settings)
    if REFERENCE not in set(known["level"]):
        reason = f"no tooth filled {REFERENCE} has a countable review: nothing to compare with"
        _refuse(rows, topics, levels, reason)
        return
    _analyse_models(rows, topics, model_columns(known), levels, settings)


def _analyse_models(
    rows: ResultRows, topics: Topics, columns: Columns, levels: tuple[str, ...],
    settings: Settings,
) -> None:  # fmt: skip
    absent = [name for name in levels if name not in columns.levels]
    for name in absent:
        _refuse(rows, topics, (REFERENCE, name), f"no tooth filled {name} was reviewed")
    fit = fit_adjusted(columns, settings)
    if fit is None:
        return
    add_adjusted(rows, topics, columns, fit)
    add_risks(rows, topics, columns, fit)


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
