"""C7: what the teeth that were not reviewed could do to the comparison."""

import numpy as np
import pandas as pd

from lengthwise.analyse.outcome_frame import LEVELS, REFERENCE, exposed_to
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.statistics.outcome.followup_bounds import (
    FollowUpBounds,
    GroupFollowUp,
    followup_bounds,
)
from lengthwise.statistics.results import Estimate, refused

NAN = float("nan")


def add_bounds(rows: ResultRows, topic: Topic, frame: pd.DataFrame) -> None:
    """Write the ends of each difference over all outcomes of the unseen, and tipping points."""
    outcome = frame["is_not_healed"].astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    for level in LEVELS:
        if level == REFERENCE or not (frame["level"] == level).any():
            continue
        found = followup_bounds(outcome, exposed_to(frame, level))
        for measure, size in (
            ("difference_lowest", found.difference_lowest),
            ("difference_highest", found.difference_highest),
        ):
            value = Estimate(
                size, NAN, NAN, 0.95, found.exposed.n + found.reference.n, 0, found.method,
                found.valid, found.reason,
            )  # fmt: skip
            rows.add(topic, measure, level, value, unit="risk_difference", reference=REFERENCE)
        _add_tipping(rows, topic, level, found)


def _add_tipping(rows: ResultRows, topic: Topic, level: str, found: FollowUpBounds) -> None:
    """Write how many of the teeth not reviewed must not have healed for no difference.

    First among the teeth of the level, with those not reviewed of the reference like those
    seen; then among those of the reference, the other way round.
    """
    exposed, reference = found.exposed, found.reference
    for measure, moved, other, name in (
        ("", exposed, reference, level),
        ("_reference", reference, exposed, REFERENCE),
    ):
        tipping, expected = _tipping(moved, other, name, found)
        missing = moved.n - moved.observed
        for what, item in (("tipping_count", tipping), ("expected_count", expected)):
            rows.add(topic, f"{what}{measure}", level, item, unit="count", denominator=missing)


def _tipping(
    moved: GroupFollowUp, other: GroupFollowUp, name: str, found: FollowUpBounds
) -> tuple[Estimate, Estimate]:
    """Return the count at which the difference is nought, and the count at the share seen."""
    missing = moved.n - moved.observed
    reason = found.reason
    if not reason and missing == 0:
        reason = f"every tooth filled {name} was reviewed"
    needed = NAN if reason else other.risk_observed * moved.n - moved.events
    if not reason and not 0 <= needed <= missing:
        reason = (
            f"whatever became of the {missing} teeth filled {name} that were not reviewed, "
            "the difference would not vanish if the others not reviewed were like those seen"
        )
    if reason:
        value = refused(reason, method=found.method)
        return value, value
    likely = float(round(moved.risk_observed * missing))
    return (
        Estimate(float(round(needed)), NAN, NAN, 0.95, missing, 0, "tipping point, in teeth"),
        Estimate(likely, NAN, NAN, 0.95, missing, 0, "at the share seen"),
    )
