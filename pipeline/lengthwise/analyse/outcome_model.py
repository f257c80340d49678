"""C2, C3, C4, C9: the adjusted association, told as risks over this practice's case-mix."""

from dataclasses import dataclass, replace

import numpy as np

from lengthwise.analyse.outcome_diagnostics import (
    add_influence,
    add_left_out,
    add_plan,
    analyse_calibration,
)
from lengthwise.analyse.outcome_frame import REFERENCE, Columns
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.adjusted import AdjustedAssociation, adjusted_association
from lengthwise.statistics.outcome.firth import fit_firth
from lengthwise.statistics.outcome.sensitivity import e_value
from lengthwise.statistics.outcome.simulated_limits import simulated_limit
from lengthwise.statistics.outcome.standardisation import (
    StandardisedRisk,
    StandardisedRisks,
    designs_by_level,
    standardised_risks,
)
from lengthwise.statistics.results import Estimate, refused

NAN = float("nan")
# Above so many events a parameter the penalty, one half of an event each, is nothing.
PENALTY_GONE = 500
# Below so large a share not healed an odds ratio is read as a risk ratio (VanderWeele & Ding).
RARE = 0.15
E_VALUE_OF = {
    "RR": "standardised risk ratio",
    "OR_rare": "odds ratio, read as a risk ratio",
    "OR_common": "square root of the odds ratio",
}
# What a ratio of each covariate compares with.
_OTHERS = {
    "lesion": "no lesion",
    "molar": "other teeth",
    "retreatment": "primary treatment",
    "months_from_treatment": "a month earlier",
    "restoration_not_adequate": "adequate restoration",
}


@dataclass(frozen=True, slots=True)
class Topics:
    """What the rows of each analysis are about."""

    section: str
    period: str

    def of(self, analysis: str) -> Topic:
        """Return the topic of one analysis."""
        return Topic(self.section, analysis, self.period)


def fit_adjusted(columns: Columns, settings: Settings) -> AdjustedAssociation | None:
    """Return the fit that the events allow, or None where there is no second level."""
    if not columns.contrasts:
        return None
    small = settings.small_numbers
    return adjusted_association(
        columns.outcome, columns.exposure, columns.covariates, columns.patient,
        exposure_terms=columns.contrasts, covariate_terms=columns.names,
        covariate_order=columns.groups, fewest_events=small.minimum_events,
        events_per_parameter=small.events_per_parameter, level=settings.confidence_level,
    )  # fmt: skip


def add_adjusted(
    rows: ResultRows, topics: Topics, columns: Columns, fit: AdjustedAssociation,
    settings: Settings,
) -> None:  # fmt: skip
    """Write C2 and C3: odds ratios, what went in, and the penalised fit beside it."""
    topic, model = topics.of("C2"), fit.fit
    terms = model.terms[1:] if model.valid else columns.contrasts
    counts = {"numerator": model.n_events, "denominator": model.n_used}
    for term in terms:
        reference = REFERENCE if term in columns.levels else _OTHERS[term]
        value = model.ratio(term) if model.valid else _refusal(fit, "no model")
        value = replace(value, n_missing=int((~fit.rows_used).sum()))
        if term in columns.levels:
            limit = simulated_limit(model, penalised=fit.penalised, is_difference=False)
            value = noted(noted(value, few_teeth(columns, fit, term, settings)), limit)
        rows.add(
            topic, "odds_ratio", term, value, unit="odds_ratio", reference=reference,
            n_clusters=model.n_clusters, **counts,
        )  # fmt: skip
        if term not in columns.levels and value.valid:
            share = model.n_events / model.n_used
            measure = "OR_rare" if share < RARE else "OR_common"
            _add_e_value(rows, topics.of("C9"), term, value, measure, reference)
    add_left_out(rows, topic, columns, fit, settings)
    add_plan(rows, topic, columns, fit)
    add_influence(rows, topic, columns, fit)
    analyse_calibration(rows, topic, columns, fit)
    _add_penalised(rows, topics.of("C3"), columns, fit)


def _add_penalised(
    rows: ResultRows, topic: Topic, columns: Columns, fit: AdjustedAssociation
) -> None:
    reason = "" if fit.plan.valid else fit.reason or fit.fit.reason
    if not reason and fit.plan.events_per_parameter > PENALTY_GONE and not fit.penalised:
        reason = (
            f"not needed: {fit.plan.events_per_parameter:.0f} events a parameter, so the "
            "penalty would change nothing"
        )
    if reason:
        for level in columns.contrasts:
            value = refused(reason, method="Firth", n_used=fit.fit.n_used)
            rows.add(topic, "odds_ratio", level, value, unit="odds_ratio", reference=REFERENCE)
        return
    design = fit.design
    terms = ("intercept", *columns.contrasts, *(columns.names[c] for c in fit.columns))
    firth = fit_firth(
        columns.outcome[fit.rows_used], design, terms=terms, level=fit.fit.level
    ).fit
    for level in columns.contrasts:
        rows.add(
            topic, "odds_ratio", level, firth.ratio(level), unit="odds_ratio",
            reference=REFERENCE, numerator=firth.n_events, denominator=firth.n_used,
        )  # fmt: skip


def risks_by_level(columns: Columns, fit: AdjustedAssociation) -> StandardisedRisks:
    """Return the standardised risk of each level over the rows of the fit."""
    if not fit.fit.valid:
        return StandardisedRisks((), REFERENCE, "standardised risk", False, fit.reason)
    spots = {name: i + 1 for i, name in enumerate(columns.contrasts)}
    settings_of = {
        name: {spot: float(other == name) for other, spot in spots.items()}
        for name in columns.levels
    }
    return standardised_risks(
        fit.fit, designs_by_level(fit.design, settings_of), reference=REFERENCE,
        design=fit.design, level_of_row=list(columns.level[fit.rows_used]),
    )  # fmt: skip


def few_teeth(
    columns: Columns, fit: AdjustedAssociation, level: str, settings: Settings
) -> str:
    """Return the words where a level, or the reference, has too few teeth to be told."""
    least = settings.small_numbers.minimum_denominator
    of_level = columns.level[fit.rows_used]
    for name in (level, REFERENCE):
        n = int((of_level == name).sum())
        if n < least:
            whose = "" if name == level else f" filled {name}"
            return f"n = {n}{whose}: unstable, read the counts only"
    return ""


def add_risks(
    rows: ResultRows, topics: Topics, columns: Columns, fit: AdjustedAssociation,
    settings: Settings,
) -> None:  # fmt: skip
    """Write C4 and C9: risks by level, their contrasts, and the E-value beside each ratio."""
    risks = risks_by_level(columns, fit)
    if not risks.valid:
        for level in columns.levels:
            value = refused(risks.reason, method=risks.method, n_used=fit.fit.n_used)
            rows.add(topics.of("C4"), "standardised_risk", level, value, unit="proportion")
        return
    for row in risks.rows:
        few = few_teeth(columns, fit, row.level_name, settings)
        _add_level(rows, topics, row, fit, few)


def _add_level(
    rows: ResultRows, topics: Topics, row: StandardisedRisk, fit: AdjustedAssociation, few: str
) -> None:
    """Write the numbers of one level; of few teeth only the ratio is given, with its flag."""
    topic, level = topics.of("C4"), row.level_name
    counts = {"denominator": fit.fit.n_used, "n_clusters": fit.fit.n_clusters}
    limit = simulated_limit(fit.fit, penalised=fit.penalised, is_difference=True)
    risk = _unless(few, _within(row.risk, 0.0))
    rows.add(topic, "standardised_risk", level, risk, unit="proportion", **counts)
    # What differences hold in simulation is no word on shares: those stand in the report.
    contrasts = (
        ("risk_difference", row.difference, "risk_difference", -1.0, limit),
        ("risk_ratio", row.ratio, "ratio", None, ""),
        ("share_of_events", row.share_of_events, "proportion", -1.0, ""),
    )
    for measure, value, unit, least, words in contrasts:
        if value is not None and level != REFERENCE:
            shown = noted(value, few)
            if least is not None:
                shown = _unless(few, noted(_within(value, least), words))
            rows.add(topic, measure, level, shown, unit=unit, reference=REFERENCE, **counts)
    if row.ratio is not None:
        _add_e_value(rows, topics.of("C9"), level, noted(row.ratio, few))


def _add_e_value(
    rows: ResultRows, topic: Topic, subject: str, ratio: Estimate, measure: str = "RR",
    reference: str = REFERENCE,
) -> None:  # fmt: skip
    """Write the E-value of a ratio and of its limit nearer to 1."""
    found = e_value(ratio.estimate, ratio.lower, ratio.upper, measure=measure)
    for name, size in (("e_value", found.estimate), ("e_value_limit", found.limit)):
        value = Estimate(
            size, NAN, NAN, ratio.level, ratio.n_used, ratio.n_missing,
            f"E-value of the {E_VALUE_OF[measure]}", found.valid and ratio.valid,
            found.reason or ratio.reason,
        )  # fmt: skip
        rows.add(topic, name, subject, value, unit="ratio", reference=reference)


def noted(value: Estimate, note: str) -> Estimate:
    """Return the estimate with a further warning beside it."""
    return replace(value, reason="; ".join(text for text in (value.reason, note) if text))


def _unless(few: str, value: Estimate) -> Estimate:
    """Return the estimate, or its refusal where the teeth are too few to tell it."""
    if not few or not value.valid:
        return value
    return refused(few, method=value.method, n_used=value.n_used, level=value.level)


def _within(value: Estimate, least: float) -> Estimate:
    """Return the estimate with limits cut to what a share can be."""
    lower, upper = np.clip([value.lower, value.upper], least, 1.0)
    return replace(value, lower=float(lower), upper=float(upper))


def _refusal(fit: AdjustedAssociation, method: str) -> Estimate:
    model = fit.fit
    return refused(
        fit.reason or model.reason, method=method, n_used=model.n_used,
        n_missing=model.n_missing, level=model.level,
    )  # fmt: skip
