"""Whether the filling level goes with healing here: crude and adjusted, worded as association."""

import numpy as np
import pandas as pd

from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.crude_table import CrudeTable, crude_table_from_rows
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.results import Estimate, refused

REFERENCE = "within"
# The order in which covariates are kept when events are few.
COVARIATES = (
    "lesion",
    "molar",
    "retreatment",
    "restoration_not_adequate",
    "months_from_treatment",
)


def _levels(frame: pd.DataFrame) -> list[str]:
    present = set(frame["level"])
    return [name for name in (REFERENCE, "flush", "short", "beyond") if name in present]


def _add_crude(rows: ResultRows, topic: Topic, table: CrudeTable) -> None:
    for row in table.rows:
        rows.add(
            topic, "share_not_healed", row.level_name, row.share, unit="proportion",
            numerator=row.events, denominator=row.n,
        )  # fmt: skip
        pairs = {
            "risk_difference": (row.risk_difference, "risk_difference"),
            "risk_ratio": (row.risk_ratio, "ratio"),
            "odds_ratio": (row.odds_ratio, "odds_ratio"),
        }
        for measure, (value, unit) in pairs.items():
            if value is not None:
                rows.add(topic, measure, row.level_name, value, unit=unit, reference=REFERENCE)
    test = table.test
    p_value = Estimate(
        test.p_value, float("nan"), float("nan"), table.level, table.n_used, table.n_missing,
        test.name, test.valid, test.reason,
    )  # fmt: skip
    rows.add(topic, "p_value", "all levels", p_value, unit="p_value", reference=REFERENCE)


def _design(frame: pd.DataFrame, levels: list[str]) -> pd.DataFrame:
    design = pd.DataFrame({"intercept": np.ones(len(frame))}, index=frame.index)
    for level in levels:
        if level != REFERENCE:
            design[level] = (frame["level"] == level).astype(float)
    adequate = frame["is_restoration_adequate"].astype("float64")
    candidates = {
        "lesion": frame["has_lesion"].astype("float64"),
        "molar": (frame["tooth_type"] == "molar").astype("float64"),
        "retreatment": (frame["treatment_type"] == "retreatment").astype("float64"),
        "restoration_not_adequate": 1 - adequate,
        "months_from_treatment": frame["months_from_treatment"] - 12,
    }
    for name in COVARIATES:
        design[name] = candidates[name]
    return design


def _kept_terms(frame: pd.DataFrame, levels: list[str], settings: Settings) -> list[str]:
    """Return the covariates that the number of events allows, in the declared order."""
    events = int(frame["is_not_healed"].sum())
    least = min(events, len(frame) - events)
    room = least // settings.small_numbers.events_per_parameter - (len(levels) - 1)
    return list(COVARIATES[: max(0, room)])


def _add_adjusted(
    rows: ResultRows, topic: Topic, frame: pd.DataFrame, settings: Settings
) -> None:
    levels = _levels(frame)
    events = int(frame["is_not_healed"].sum())
    if events < settings.small_numbers.minimum_events or len(levels) < 2:
        reason = f"{events} events: the crude table only, no model"
        for level in levels[1:]:
            value = refused(reason, method="GEE, logit", n_used=len(frame))
            rows.add(topic, "odds_ratio", level, value, unit="odds_ratio", reference=REFERENCE)
        return
    kept = _kept_terms(frame, levels, settings)
    design = _design(frame, levels)[["intercept", *levels[1:], *kept]]
    fit = fit_gee(
        frame["is_not_healed"].to_numpy(dtype=float), design.to_numpy(dtype=float),
        frame["patient_id"].to_numpy(), terms=list(design.columns),
    )  # fmt: skip
    for term in design.columns[1:]:
        reference = REFERENCE if term in levels else "absent"
        rows.add(
            topic, "odds_ratio", term, fit.ratio(term), unit="odds_ratio",
            reference=reference, numerator=fit.n_events, denominator=fit.n_used,
            n_clusters=fit.n_clusters,
        )  # fmt: skip


def analyse_outcomes(
    rows: ResultRows, outcomes: pd.DataFrame, period: str, settings: Settings
) -> None:
    """Write C1 and C2: not healed (strict) by filling level of the tooth's worst canal."""
    topic_flow = Topic("flow", "flow", period)
    known = outcomes[
        outcomes["is_not_healed"].notna() & (outcomes["level"] != "not_assessable")
    ]
    known = known.assign(is_not_healed=known["is_not_healed"].astype(bool))
    for name, count in outcomes["outcome"].value_counts().sort_index().items():
        rows.add_count(topic_flow, f"outcome_{name}", int(count), denominator=len(outcomes))
    rows.add_count(
        topic_flow, "teeth_in_outcome_analysis", len(known), denominator=len(outcomes)
    )
    if known.empty or REFERENCE not in set(known["level"]):
        return
    table = crude_table_from_rows(
        known["level"].to_numpy(), known["is_not_healed"].to_numpy(dtype=float),
        levels=_levels(known), reference=REFERENCE,
    )  # fmt: skip
    _add_crude(rows, Topic("outcome", "C1", period), table)
    _add_adjusted(rows, Topic("outcome", "C2", period), known, settings)
