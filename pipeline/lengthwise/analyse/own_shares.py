"""Each clinician's own share of every measure: four quarters, by quarter, and peers unlabelled."""

import pandas as pd

from lengthwise.analyse.measures import Measure
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.periods import window
from lengthwise.settings import Settings
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import Estimate, refused

SECTION = "clinicians"
ROLLING_QUARTERS = 4
TREND_QUARTERS = 8


def analyse_own_shares(
    rows: ResultRows, measures: list[Measure], quarters: list[str], settings: Settings
) -> None:
    """Write own shares in each clinician's scope, and the spread of all without names."""
    covered, shown = quarters[-ROLLING_QUARTERS:], quarters[-TREND_QUARTERS:]
    period = window(covered[0], covered[-1])
    for measure in measures:
        known = measure.cases[measure.cases["is_met"].notna()]
        known = known.assign(is_met=known["is_met"].astype(float))
        recent = known[known["quarter"].isin(covered)]
        for clinician, own in recent.groupby("clinician_id"):
            topic = Topic(SECTION, "B5", period, f"clinician:{clinician}")
            _add(rows, topic, "share", measure, own, settings)
        trend = known[known["quarter"].isin(shown)]
        for (clinician, quarter), own in trend.groupby(["clinician_id", "quarter"]):
            topic = Topic(SECTION, "B5", str(quarter), f"clinician:{clinician}")
            _add(rows, topic, "share_in_quarter", measure, own, settings)
        _add_peers(rows, Topic(SECTION, "B5", period), measure, recent, settings)


def _add(
    rows: ResultRows, topic: Topic, name: str, measure: Measure, own: pd.DataFrame,
    settings: Settings,
) -> None:  # fmt: skip
    count, least = len(own), settings.small_numbers.minimum_denominator
    if count < least:
        value = refused(
            f"fewer than {least} cases: counts only", method="share of own cases", n_used=count
        )
    else:
        value = _clustered(own)
    rows.add(
        topic, name, measure.name, value, unit="proportion",
        numerator=int(own["is_met"].sum()), denominator=count,
        n_clusters=own["patient_id"].nunique(), target=measure.target,
    )  # fmt: skip


def _clustered(own: pd.DataFrame) -> Estimate:
    found = clustered_proportion_of_rows(own["is_met"].to_numpy(), own["patient_id"].to_numpy())
    return found.wilson_icc if found.wilson_icc.valid else found.naive


def _add_peers(
    rows: ResultRows, topic: Topic, measure: Measure, recent: pd.DataFrame, settings: Settings
) -> None:
    """Add the shares of all with enough cases, in the order of the shares and without n.

    Neither a code nor a number of cases goes with a share, so that none can be told apart.
    """
    small = settings.small_numbers
    table = recent.groupby("clinician_id")["is_met"].agg(["mean", "size"])
    enough = table[table["size"] >= small.minimum_denominator]
    if len(enough) < small.minimum_clinicians:
        reason = (
            f"{len(enough)} clinicians with at least {small.minimum_denominator} cases, fewer "
            f"than {small.minimum_clinicians}: no comparison"
        )
        none = refused(reason, method="shares without names", n_used=len(recent))
        rows.add(topic, "peer_display", measure.name, none, unit="count")
        return
    for share in sorted(enough["mean"]):
        rows.point("peers", measure.name, "clinician", 0, float(share))
