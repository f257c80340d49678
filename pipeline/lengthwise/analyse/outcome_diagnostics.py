"""What went into the adjusted model, and how it stands: calibration, one patient left out."""

from dataclasses import replace

import numpy as np
import pandas as pd
from scipy.special import expit

from lengthwise.analyse.outcome_frame import REFERENCE, Columns
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.adjusted import AdjustedAssociation
from lengthwise.statistics.outcome.influence import cluster_influence
from lengthwise.statistics.outcome.model_fit import exponentiated
from lengthwise.statistics.proportions import proportion
from lengthwise.statistics.results import Estimate, refused

NAN = float("nan")
GROUPS = 5
FIGURE = "outcome_calibration"


def add_plan(
    rows: ResultRows, topic: Topic, columns: Columns, fit: AdjustedAssociation
) -> None:
    """Write the size of the model: events, parameters, patients, correlation, steps."""
    model, plan = fit.fit, fit.plan
    words = "; ".join(text for text in (fit.reason, columns.aside) if text)
    patients = pd.factorize(columns.patient[fit.rows_used])[0]
    largest = float(np.bincount(patients).max()) if patients.size else 0.0
    figures = {
        "events": (float(plan.events), "count"),
        "parameters": (float(plan.parameters), "count"),
        "events_per_parameter": (plan.events_per_parameter, "ratio"),
        "working_correlation": (model.working_correlation, "correlation"),
        "largest_patient": (largest, "count"),
    }
    if model.n_steps:
        figures["steps"] = (float(model.n_steps), "count")
    for measure, (size, unit) in figures.items():
        value = Estimate(
            size, NAN, NAN, model.level, model.n_used, model.n_missing, model.method,
            model.valid, words if measure == "events_per_parameter" or not model.valid else "",
        )  # fmt: skip
        rows.add(topic, measure, "model", value, unit=unit, n_clusters=model.n_clusters)


def add_left_out(
    rows: ResultRows, topic: Topic, columns: Columns, fit: AdjustedAssociation,
    settings: Settings,
) -> None:  # fmt: skip
    """Write each declared term that is not in the model with the reason, and what is missing."""
    if not fit.fit.valid:
        return
    wanted = settings.small_numbers.events_per_parameter
    few = f"left out: too few events for one more at {wanted} events a parameter"
    reasons = {group.name: few for group in fit.plan.dropped}
    same = "left out: it does not vary here, or was not recorded"
    reasons |= dict.fromkeys(columns.constant, same)
    for name, reason in reasons.items():
        value = refused(reason, method="left out", n_used=fit.fit.n_used)
        rows.add(topic, "odds_ratio", name, value, unit="odds_ratio")
    for place, name in enumerate(columns.names):
        missing = int(np.isnan(columns.covariates[:, place]).sum())
        rows.add_count(
            topic, name, missing, denominator=columns.outcome.size, measure="missing_values"
        )


def add_influence(
    rows: ResultRows, topic: Topic, columns: Columns, fit: AdjustedAssociation
) -> None:
    """Write the ends between which leaving out one patient moves the ratio of each level."""
    if not fit.fit.valid:
        return
    used = fit.rows_used
    found = cluster_influence(columns.outcome[used], fit.design, columns.patient[used], fit.fit)
    for level in columns.contrasts:
        for name, value in (("lowest", found.lowest(level)), ("highest", found.highest(level))):
            shown = exponentiated(value) if value.valid else value
            rows.add(
                topic, f"odds_ratio_without_one_patient_{name}", level,
                replace(shown, lower=NAN, upper=NAN), unit="odds_ratio", reference=REFERENCE,
                n_clusters=fit.fit.n_clusters,
            )  # fmt: skip


def analyse_calibration(
    rows: ResultRows, topic: Topic, columns: Columns, fit: AdjustedAssociation
) -> None:
    """Write expected and seen shares in fifths of the risk that the model expects."""
    model = fit.fit
    if not model.valid:
        return
    # Teeth alike in every term have one risk and stay together, whatever their order.
    risk = expit(fit.design @ model.vector()).round(10)
    seen = columns.outcome[fit.rows_used]
    ends = np.quantile(risk, np.arange(1, GROUPS) / GROUPS, method="lower")
    place = np.searchsorted(ends, risk, side="left")
    for group in range(GROUPS):
        own = place == group
        if own.any():
            _add_fifth(rows, topic, group, risk[own], seen[own], model.level)


def _add_fifth(
    rows: ResultRows, topic: Topic, group: int, risk: np.ndarray, seen: np.ndarray, level: float
) -> None:
    n, events = int(seen.size), int(seen.sum())
    name = f"fifth {group + 1} of risk"
    expected = Estimate(float(risk.mean()), NAN, NAN, level, n, 0, "mean of the model's risks")
    rows.add(topic, "expected_share", name, expected, unit="proportion", denominator=n)
    share = proportion(events, n, level=level)
    rows.add(
        topic, "seen_share", name, share, unit="proportion", numerator=events, denominator=n
    )
    rows.point(
        FIGURE, "fifths", "seen", float(risk.mean()), share.estimate, lower=share.lower,
        upper=share.upper, n=n, label=name,
    )  # fmt: skip
