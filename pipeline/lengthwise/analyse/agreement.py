"""Which length method can be trusted: each against the confirmed length, and pair by pair."""

import itertools
from dataclasses import replace

import numpy as np
import pandas as pd

from lengthwise.analyse.groups import CANAL, one_row_by_canal
from lengthwise.analyse.method_order import methods_used
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.agreement.clustered_limits import ClusteredLimits, clustered_limits
from lengthwise.statistics.agreement.limits import limits_of_agreement
from lengthwise.statistics.agreement.shares import paired_shares
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import refused

CONFIRMED = "confirmed"
# An own choice: more points than this only blacken a figure.
MOST_POINTS = 5000


def _within(difference: np.ndarray, tolerance_mm: float) -> np.ndarray:
    # Inclusive, after rounding to 0.01: 16.1 - 15.6 exceeds 0.5 in binary numbers.
    inside = np.round(np.abs(difference), 2) <= tolerance_mm + 1e-9
    return np.where(np.isfinite(difference), inside, np.nan)


def _add_shares(
    rows: ResultRows, topic: Topic, subject: str, reference: str, difference: np.ndarray,
    patient: np.ndarray, settings: Settings,
) -> None:  # fmt: skip
    limits = settings.thresholds
    for tolerance in (limits.tolerance_mm, limits.wide_tolerance_mm):
        inside = _within(difference, tolerance)
        share = clustered_proportion_of_rows(inside, patient)
        value = share.wilson_icc if share.wilson_icc.valid else share.naive
        if value.n_used < settings.small_numbers.minimum_denominator:
            value = refused(
                f"fewer than {settings.small_numbers.minimum_denominator} canals: counts only",
                method=value.method, n_used=value.n_used, n_missing=value.n_missing,
            )  # fmt: skip
        name = f"{tolerance:.1f}".replace(".", "_")
        rows.add(
            topic, f"share_within_{name}", subject, value, unit="proportion",
            reference=reference, numerator=int(np.nansum(inside)),
            denominator=int(np.isfinite(inside).sum()), n_clusters=share.n_clusters,
        )  # fmt: skip


def _add_limits(
    rows: ResultRows, topic: Topic, subject: str, reference: str, found: ClusteredLimits
) -> None:
    measures = {
        "bias": found.bias,
        "sd": found.standard_deviation,
        "lower_limit": found.lower,
        "upper_limit": found.upper,
    }
    for measure, value in measures.items():
        rows.add(
            topic, measure, subject, value, unit="mm", reference=reference,
            n_clusters=found.n_patients,
        )  # fmt: skip


def _add_unclustered(
    rows: ResultRows, period: str, subject: str, reference: str, method: np.ndarray,
    against: np.ndarray,
) -> None:  # fmt: skip
    """Write A1 in a section of its own: no report shows it in the place of A2."""
    found = limits_of_agreement(method, against)
    topic = Topic("agreement_unclustered", "A1", period)
    for measure in ("bias", "lower", "upper"):
        value = getattr(found, measure)
        caution = "for comparison only: canals of one patient are not independent"
        said = "; ".join(one for one in (caution if value.valid else "", value.reason) if one)
        rows.add(
            topic, measure if measure == "bias" else f"{measure}_limit", subject,
            replace(value, reason=said), unit="mm", reference=reference,
        )  # fmt: skip


def _compare(
    rows: ResultRows, period: str, subject: str, reference: str, frame: pd.DataFrame,
    settings: Settings,
) -> None:  # fmt: skip
    """Compare columns `method` and `reference` of a frame with one row per canal."""
    method = frame["method_mm"].to_numpy(dtype=float)
    against = frame["reference_mm"].to_numpy(dtype=float)
    patient, tooth = frame["patient_id"].to_numpy(), frame["treatment_id"]
    found = clustered_limits(
        method, against, patient=patient, tooth=tooth,
        minimum_pairs=settings.small_numbers.minimum_pairs,
    )  # fmt: skip
    _add_limits(rows, Topic("agreement", "A2", period), subject, reference, found)
    _add_unclustered(rows, period, subject, reference, method, against)
    _add_shares(
        rows, Topic("agreement", "A6", period), subject, reference, method - against, patient,
        settings,
    )  # fmt: skip


def _add_scatter(rows: ResultRows, subject: str, frame: pd.DataFrame) -> None:
    """Plot each canal; of very many a fixed sample, since a page shows no more.

    Every point carries the number of canals it was drawn from.
    """
    known = frame.dropna(subset=["method_mm", "reference_mm"])
    shown = known.sample(n=min(len(known), MOST_POINTS), random_state=1).sort_index()
    middle = (shown["method_mm"] + shown["reference_mm"]) / 2
    difference = shown["method_mm"] - shown["reference_mm"]
    for x, y in zip(middle, difference, strict=True):
        rows.point("bland_altman", subject, "canal", x, y, n=len(known))


def _add_paired_shares(
    rows: ResultRows,
    topic: Topic,
    pairs: pd.DataFrame,
    order: tuple[str, ...],
    settings: Settings,
) -> None:
    """Write, on canals that two methods read, how their shares within tolerance differ."""
    inside = pairs.assign(
        inside=_within(pairs["difference_mm"].to_numpy(float), settings.thresholds.tolerance_mm)
    )
    wide = one_row_by_canal(inside, ["patient_id"], "inside")
    patient = wide["patient_id"].to_numpy()
    for first, second in itertools.combinations(order, 2):
        if not {first, second} <= set(wide.columns):
            continue
        both = wide[first].notna() & wide[second].notna()
        found = paired_shares(
            wide[first].to_numpy(), wide[second].to_numpy(), patient,
            minimum_denominator=settings.small_numbers.minimum_denominator,
        )  # fmt: skip
        rows.add(
            topic, "share_difference", first, found.difference, unit="proportion",
            reference=second, denominator=int(both.sum()), n_clusters=found.n_clusters,
        )  # fmt: skip


def analyse_agreement(
    rows: ResultRows, pairs: pd.DataFrame, period: str, settings: Settings
) -> None:
    """Write A2 and A6 for each method against the confirmed length and for every pair.

    Shares of two methods are compared on the same canals.

    `pairs` is marts.length_pairs; repeated readings of a canal by one method are averaged.
    """
    if pairs.empty:
        return
    keys = [*CANAL, "patient_id"]
    order = methods_used(pairs, settings)
    for method in order:
        frame = pairs[pairs["method"] == method].rename(
            columns={"length_mm": "method_mm", "confirmed_length_mm": "reference_mm"}
        )
        _compare(rows, period, method, CONFIRMED, frame, settings)
        _add_scatter(rows, method, frame)
    _add_paired_shares(rows, Topic("agreement", "A6", period), pairs, order, settings)
    wide = one_row_by_canal(pairs, keys)
    for first, second in itertools.combinations(order, 2):
        both = wide[[*keys, first, second]].rename(
            columns={first: "method_mm", second: "reference_mm"}
        )
        complete = both.dropna(subset=["method_mm", "reference_mm"])
        _compare(rows, period, first, second, complete, settings)
