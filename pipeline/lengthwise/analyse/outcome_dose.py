"""C5 and C6: not healed along the offset in mm, and the periapical index as an ordered scale."""

from dataclasses import replace

import numpy as np
import pandas as pd

from lengthwise.analyse.outcome_frame import REFERENCE, Columns, worst_offset_mm
from lengthwise.analyse.outcome_model import Topics
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.brant import brant_test
from lengthwise.statistics.outcome.dose_response import spline_response
from lengthwise.statistics.outcome.model_fit import ModelFit
from lengthwise.statistics.outcome.model_plan import plan_model
from lengthwise.statistics.outcome.ordinal import fit_proportional_odds, parallel_test
from lengthwise.statistics.outcome.regression import fit_logistic
from lengthwise.statistics.results import Estimate, refused

NAN = float("nan")
SPLINE_TERMS = 3  # four knots
STEP_MM = 0.1
PER_MM = {
    "short": "odds ratio per mm further short",
    "beyond": "odds ratio per mm further beyond",
}
FIGURE = "dose_response"
# Highest grade kept apart when the assumption is checked, tried in this order.
JOINED = (5.0, 4.0, 3.0)


def analyse_dose(
    rows: ResultRows, topics: Topics, known: pd.DataFrame, columns: Columns, settings: Settings
) -> None:
    """Write the curve of odds along the offset, its bend, and the odds ratios per mm."""
    topic = topics.of("C5")
    offset = worst_offset_mm(known)
    covariates, names, reason = _room(offset, columns, SPLINE_TERMS, settings)
    if reason:
        for subject in PER_MM:
            rows.add(
                topic, "odds_ratio_per_mm", subject, refused(reason, method="dose-response"),
                unit="odds_ratio",
            )  # fmt: skip
        return
    _add_curve(rows, topic, offset, columns, covariates, names, settings)
    covariates, names, _ = _room(offset, columns, len(PER_MM), settings)
    _add_slopes(rows, topic, offset, columns, covariates, names, settings)


def _room(
    offset: np.ndarray, columns: Columns, terms: int, settings: Settings
) -> tuple[np.ndarray, tuple[str, ...], str]:
    """Return the covariates that the events allow beside so many terms, or why none fits."""
    complete = np.isfinite(offset) & np.isfinite(columns.covariates).all(axis=1)
    small = settings.small_numbers
    plan = plan_model(
        int(columns.outcome[complete].sum()), int(complete.sum()), terms, columns.groups,
        fewest_events=small.minimum_events, events_per_parameter=small.events_per_parameter,
    )  # fmt: skip
    kept = [column for group in plan.kept for column in group.columns]
    reason = plan.reason
    if plan.valid and plan.penalised:
        reason = f"{plan.events} events are too few for {terms} terms"
    elif plan.valid:
        reason = ""
    return columns.covariates[:, kept], tuple(columns.names[c] for c in kept), reason


def _add_curve(
    rows: ResultRows, topic: Topic, offset: np.ndarray, columns: Columns,
    covariates: np.ndarray, names: tuple[str, ...], settings: Settings,
) -> None:  # fmt: skip
    known = offset[np.isfinite(offset)]
    ends = np.quantile(known, [0.02, 0.98])
    grid = np.arange(np.ceil(ends[0] / STEP_MM), np.floor(ends[1] / STEP_MM) + 1) * STEP_MM
    middle = sum(settings.level_limits_mm) / 2
    found = spline_response(
        columns.outcome, offset, at=grid.round(2).tolist(), reference=middle,
        covariates=covariates, covariate_terms=names, cluster=columns.patient,
        level=settings.confidence_level,
    )  # fmt: skip
    for point in found.curve:
        odds = point.odds_ratio
        rows.point(
            FIGURE, "odds_ratio", "odds ratio", point.x, odds.estimate, lower=odds.lower,
            upper=odds.upper, n=odds.n_used, label=f"against {middle:g} mm",
        )  # fmt: skip
    value = Estimate(
        found.nonlinearity_p, NAN, NAN, settings.confidence_level, found.fit.n_used,
        found.fit.n_missing, "Wald test that the spline is a straight line", found.valid,
        found.reason,
    )  # fmt: skip
    rows.add(topic, "p_value", "straight line", value, unit="p_value")


def _add_slopes(
    rows: ResultRows, topic: Topic, offset: np.ndarray, columns: Columns,
    covariates: np.ndarray, names: tuple[str, ...], settings: Settings,
) -> None:  # fmt: skip
    short_mm, within_mm = settings.level_limits_mm
    basis = np.column_stack(
        [
            np.ones_like(offset),
            np.maximum(short_mm - offset, 0),
            np.maximum(offset - max(within_mm, 0), 0),
        ]
    )
    fit = fit_logistic(
        columns.outcome, np.hstack([basis, covariates]),
        terms=("intercept", "short", "beyond", *names), cluster=columns.patient,
        level=settings.confidence_level,
    )  # fmt: skip
    for subject, words in PER_MM.items():
        value = fit.ratio(subject)
        value = replace(value, method=f"{words}; {value.method}")
        _add_ratio(rows, topic, "odds_ratio_per_mm", subject, value, fit)


def _add_ratio(
    rows: ResultRows, topic: Topic, measure: str, subject: str, value: Estimate, fit: ModelFit
) -> None:
    rows.add(
        topic, measure, subject, value, unit="odds_ratio", reference=REFERENCE,
        denominator=fit.n_used, n_clusters=fit.n_clusters,
    )  # fmt: skip


def analyse_index(
    rows: ResultRows, topics: Topics, known: pd.DataFrame, columns: Columns, settings: Settings
) -> None:
    """Write the odds of a higher index by level, with the check of the one-slope assumption."""
    topic = topics.of("C6")
    index = pd.to_numeric(known["pai"]).to_numpy(dtype=float, na_value=np.nan)
    covariates, names, reason = _room(index, columns, len(columns.contrasts), settings)
    if reason:
        for level in columns.contrasts:
            value = refused(reason, method="proportional-odds model")
            rows.add(topic, "odds_ratio", level, value, unit="odds_ratio", reference=REFERENCE)
        return
    # Months of follow-up in whole months: far fewer different rows, and no less is known.
    whole = [name == "months_from_treatment" for name in names]
    covariates[:, whole] = np.round(covariates[:, whole])
    design = np.hstack([columns.exposure, covariates])
    terms = (*columns.contrasts, *names)
    fit = fit_proportional_odds(index, design, terms=terms, level=settings.confidence_level)
    check = _assumption(index, design, terms, fit)
    doubt = ""
    if check.valid and check.estimate < 0.05:
        doubt = "one ratio for all cuts of the index is doubtful here: read it as an average"
    for level in columns.contrasts:
        value = fit.ratio(level)
        if value.valid and doubt:
            value = replace(value, reason="; ".join(filter(None, (value.reason, doubt))))
        _add_ratio(rows, topic, "odds_ratio", level, value, fit)
    rows.add(topic, "p_value", "one ratio for all cuts", check, unit="p_value")


def _assumption(
    index: np.ndarray, design: np.ndarray, terms: tuple[str, ...], fit: ModelFit
) -> Estimate:
    """Return the p value of the check; where slopes by cut have no fit, Brant's test.

    A grade seen at one level only leaves no test; the highest grades are then joined.
    """
    check = parallel_test(index, design)
    p_value, method, reason = check.p_value, check.method, check.reason
    for highest in JOINED if not check.valid else ():
        brant = brant_test(np.minimum(index, highest), design, terms=terms)
        joined = f", index {highest:g} and above joined" if highest < max(JOINED) else ""
        p_value, method = brant.omnibus.p_value, f"{brant.method}{joined}"
        reason = "" if brant.valid else f"not checked: {check.reason}; {brant.reason}"
        if brant.valid:
            break
    counts = (fit.level, fit.n_used, fit.n_missing)
    return Estimate(p_value, NAN, NAN, *counts, method, not reason, reason)
