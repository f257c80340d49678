"""Limits by tooth type, clinician and recorded condition, with the points of their figures."""

import pandas as pd

from lengthwise.analyse.agreement_conditions import labelled
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.agreement.clustered_limits import clustered_limits

CONFIRMED = "confirmed"
# Kind of stratum: the column of marts.length_pairs that holds it.
OF_CANALS = {"tooth_type": "tooth_type", "clinician": "clinician_id"}
# Conditions of a single reading; others are compared in tables.
OF_READINGS = ("canal_state", "metal_contact", "file_size")
# More points than this hide one another in a small panel.
MOST_POINTS = 2000
DRAW = 20240601


def analyse_strata(
    rows: ResultRows, pairs: pd.DataFrame, readings: pd.DataFrame, order: tuple[str, ...],
    period: str, settings: Settings,
) -> None:  # fmt: skip
    """Write bias and limits against the confirmed length by stratum, each with its reason.

    By tooth type and clinician (A2) a canal is a row, its readings averaged. By condition
    (A7) a reading is a row, since a canal may be read dry and wet. Tooth types are given for
    every method, the others with their points for the method with most canals, which is drawn.
    """
    known = pairs.dropna(subset=["length_mm", "confirmed_length_mm"])
    counts = known["method"].value_counts()
    if counts.empty:
        return
    main, topic = str(counts.index[0]), Topic("agreement", "A2", period)
    for method in order:
        canals = known[known["method"] == method]
        for kind, column in OF_CANALS.items():
            if method == main or kind == "tooth_type":
                _add_strata(rows, topic, method, kind, canals, canals[column], settings)
            if method == main:
                _add_points(rows, method, kind, canals, canals[column])
    chosen = readings[(readings["method"] == main) & readings["difference_mm"].notna()]
    words = labelled(chosen)
    for kind in OF_READINGS:
        if (words[kind].value_counts() >= settings.small_numbers.minimum_level).sum() >= 2:
            topic = Topic("agreement", "A7", period)
            _add_strata(rows, topic, main, kind, chosen, words[kind], settings)
            _add_points(rows, main, kind, chosen, words[kind])


def _add_strata(
    rows: ResultRows, topic: Topic, method: str, kind: str, frame: pd.DataFrame,
    labels: pd.Series, settings: Settings,
) -> None:  # fmt: skip
    is_reading = "replicate" in frame
    for label, own in frame.groupby(labels.astype(object), sort=True):
        found = clustered_limits(
            own["length_mm"], own["confirmed_length_mm"], patient=own["patient_id"].to_numpy(),
            tooth=own["treatment_id"],
            canal=own["canal"] if is_reading else None,
            minimum_pairs=settings.small_numbers.minimum_pairs,
        )  # fmt: skip
        for measure, value in (
            ("bias", found.bias), ("sd", found.standard_deviation),
            ("lower_limit", found.lower), ("upper_limit", found.upper),
        ):  # fmt: skip
            rows.add(
                topic, measure, method, value, unit="mm", reference=CONFIRMED,
                stratum=(kind, str(label)), n_clusters=found.n_patients,
            )  # fmt: skip


def _add_points(
    rows: ResultRows, method: str, kind: str, frame: pd.DataFrame, labels: pd.Series
) -> None:
    """Plot the rows of each stratum, of very many a fixed draw; n is what it was drawn from."""
    for label, own in frame.groupby(labels.astype(object), sort=True):
        drawn = own.sample(n=min(len(own), MOST_POINTS), random_state=DRAW).sort_index()
        middle = (drawn["length_mm"] + drawn["confirmed_length_mm"]) / 2
        for x, y in zip(middle, drawn["difference_mm"], strict=True):
            rows.point(f"limits_by_{kind}", method, str(label), x, y, n=len(own))
