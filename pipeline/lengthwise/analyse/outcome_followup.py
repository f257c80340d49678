"""C7: who was not reviewed, weights for it, and how far it could change the comparison."""

import numpy as np
import pandas as pd

from lengthwise.analyse.outcome_bounds import add_bounds
from lengthwise.analyse.outcome_frame import LEVELS, REFERENCE, covariate_columns, exposed_to
from lengthwise.analyse.outcome_model import Topics
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.followup_table import followup_by_group
from lengthwise.statistics.outcome.review_weights import ReviewWeights, review_weights
from lengthwise.statistics.outcome.weighted_risks import weighted_risk_difference
from lengthwise.statistics.process.recall import recall_rate
from lengthwise.statistics.results import Estimate, refused

NAN = float("nan")
EXAMINED = ("healed", "healing", "uncertain", "not_healed")
WEIGHTED_BY = ("lesion", "molar", "retreatment")
_GROUPS = {
    "level": "level",
    "lesion": "has_lesion",
    "tooth_type": "tooth_type",
    "treatment_type": "treatment_type",
    "clinician": "clinician_id",
}


def analyse_follow_up(
    rows: ResultRows, topics: Topics, outcomes: pd.DataFrame, settings: Settings
) -> None:
    """Write recall, the share reviewed by group, weighted contrasts, bounds, tipping points."""
    topic = topics.of("C7")
    due = outcomes[outcomes["is_due"]]
    _add_recall(rows, topic, due, settings)
    # A tooth lost for another reason can no longer show whether it would have healed.
    due = due[due["outcome"] != "lost_other"]
    if due.empty:
        return
    _add_who(rows, topic, due, settings)
    comparable = due[due["level"].isin(LEVELS)]
    if REFERENCE in set(comparable["level"]):
        _add_weighted(rows, topic, comparable, settings)
        add_bounds(rows, topic, comparable)


def _add_recall(rows: ResultRows, topic: Topic, due: pd.DataFrame, settings: Settings) -> None:
    examined = int(due["outcome"].isin(EXAMINED).sum())
    extracted = int(due["outcome"].isin(("lost_endodontic", "lost_other")).sum())
    found = recall_rate(
        treated=len(due), discontinued=0, examined=examined, extracted=extracted,
        minimum_cases=settings.small_numbers.minimum_denominator,
    )  # fmt: skip
    for measure, share, count in (
        ("recall_raw", found.raw, examined),
        ("recall_adjusted", found.adjusted, examined + extracted),
    ):
        value = Estimate(
            share, NAN, NAN, settings.confidence_level, len(due), 0, found.method, found.valid,
            found.reason,
        )  # fmt: skip
        rows.add(
            topic, measure, "teeth due", value, unit="proportion", numerator=count,
            denominator=len(due),
        )  # fmt: skip


def _is_known(frame: pd.DataFrame) -> np.ndarray:
    return frame["is_not_healed"].notna().to_numpy(dtype=float)


def _add_who(rows: ResultRows, topic: Topic, due: pd.DataFrame, settings: Settings) -> None:
    least = settings.small_numbers.minimum_denominator
    for kind, column in _GROUPS.items():
        group = due[column].astype(object).where(due[column].notna(), None)
        table = followup_by_group(
            _is_known(due), group, variable=kind, cluster=due["patient_id"].to_numpy()
        )
        for row in table.rows:
            value = row.share
            if row.n < least:
                value = refused(f"fewer than {least} teeth: counts only", method=value.method)
            rows.add(
                topic, "share_reviewed", "teeth due", value, unit="proportion",
                stratum=(kind, row.group), numerator=row.reviewed, denominator=row.n,
            )  # fmt: skip
        test = Estimate(
            table.test.p_value, NAN, NAN, settings.confidence_level, len(due) - table.n_missing,
            table.n_missing, table.test.name, table.test.valid, table.test.reason,
        )  # fmt: skip
        rows.add(topic, "p_value", f"reviewed by {kind}", test, unit="p_value")


def weights_for_review(frame: pd.DataFrame, contrasts: list[str]) -> ReviewWeights:
    """Return the weights by which the teeth reviewed stand for all due, given case-mix."""
    table = covariate_columns(frame)[list(WEIGHTED_BY)]
    clinicians = pd.get_dummies(frame["clinician_id"].astype(object), dtype=float).iloc[:, 1:]
    table = pd.concat([table, clinicians], axis=1)
    complete = table.dropna()
    kept = [name for name in table.columns if complete[name].nunique() > 1]
    exposure = np.column_stack([(frame["level"] == name).to_numpy(float) for name in contrasts])
    return review_weights(
        _is_known(frame), exposure, table[kept].to_numpy(float),
        exposure_terms=contrasts, covariate_terms=[str(name) for name in kept],
    )  # fmt: skip


def _add_weighted(
    rows: ResultRows, topic: Topic, frame: pd.DataFrame, settings: Settings
) -> None:
    contrasts = [
        name for name in LEVELS if name != REFERENCE and (frame["level"] == name).any()
    ]
    if not contrasts:
        return
    found = weights_for_review(frame, contrasts)
    _add_diagnostics(rows, topic, found)
    outcome = frame["is_not_healed"].astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    for level in contrasts:
        reason = found.reason or _few_reviewed(outcome, frame, level, settings)
        value = refused(reason, method=found.method, n_used=found.n_used)
        if not reason:
            value = weighted_risk_difference(
                outcome, exposed_to(frame, level), found.weights,
                cluster=frame["patient_id"].to_numpy(), level=settings.confidence_level,
            ).score_difference  # fmt: skip
        rows.add(
            topic, "risk_difference", level, value, unit="risk_difference", reference=REFERENCE,
            denominator=found.n_reviewed,
        )  # fmt: skip


def _few_reviewed(
    outcome: np.ndarray, frame: pd.DataFrame, level: str, settings: Settings
) -> str:
    """Return why a level, or the reference, has too few reviewed teeth to be weighted."""
    least = settings.small_numbers.minimum_denominator
    for name in (level, REFERENCE):
        own = np.isfinite(outcome) & (frame["level"] == name).to_numpy()
        if int(own.sum()) < least:
            return f"fewer than {least} reviewed teeth filled {name}"
    return ""


def _add_diagnostics(rows: ResultRows, topic: Topic, found: ReviewWeights) -> None:
    balance = {"before": 0.0, "after": 0.0}
    for item in found.balance:
        balance["before"] = max(balance["before"], abs(item.before))
        balance["after"] = max(balance["after"], abs(item.after))
    figures = {
        "effective_n": (found.effective_n, "count"),
        "largest_weight": (found.largest, "ratio"),
        "mean_weight": (found.mean, "ratio"),
        "largest_imbalance_before": (balance["before"], "sd"),
        "largest_imbalance_after": (balance["after"], "sd"),
    }
    for measure, (size, unit) in figures.items():
        value = Estimate(
            size, NAN, NAN, 0.95, found.n_used, found.n_missing, found.method, found.valid,
            found.reason,
        )  # fmt: skip
        rows.add(topic, measure, "weights", value, unit=unit, denominator=found.n_reviewed)
    _add_review_model(rows, topic, found)


def _add_review_model(rows: ResultRows, topic: Topic, found: ReviewWeights) -> None:
    """Write how case-mix goes with being reviewed, and its balance before and after weights.

    Clinicians are terms of the model too, but their codes stay out of subjects.
    """
    if not found.valid:
        return
    for term in (*LEVELS, *WEIGHTED_BY):
        if term in found.model.terms:
            rows.add(
                topic, "odds_ratio_of_review", term, found.model.ratio(term),
                unit="odds_ratio", denominator=found.n_used,
            )  # fmt: skip
    for item in found.balance:
        for measure, size in (("before", item.before), ("after", item.after)):
            if item.term in WEIGHTED_BY:
                value = Estimate(size, NAN, NAN, 0.95, found.n_used, 0, found.method)
                rows.add(topic, f"imbalance_{measure}", item.term, value, unit="sd")
