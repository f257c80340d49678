"""Readers of films: two readers, or one reader twice, for fillings and for PAI (A9)."""

import numpy as np
import pandas as pd

from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.agreement.clustered_limits import clustered_limits
from lengthwise.statistics.agreement.intraclass import intraclass_correlations
from lengthwise.statistics.agreement.kappa import kappa_of_readings
from lengthwise.statistics.agreement.rater_agreement import (
    category_weights,
    gwet_ac,
    krippendorff_alpha,
    rating_counts,
)
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import Estimate, refused

PAI_GRADES = (1.0, 2.0, 3.0, 4.0, 5.0)
KINDS = ("two_readers", "one_reader_twice")


def analyse_readers(
    rows: ResultRows, pairs: pd.DataFrame, period: str, settings: Settings
) -> None:
    """Write agreement of readers; `pairs` is marts.reader_pairs, second minus first read."""
    topic = Topic("agreement", "A9", period)
    for kind in KINDS:
        offsets = pairs[(pairs["measure"] == "fill_offset_mm") & (pairs["kind"] == kind)]
        if len(offsets):
            _add_offsets(rows, topic, kind, offsets, settings)
        grades = pairs[(pairs["measure"] == "pai") & (pairs["kind"] == kind)]
        if len(grades):
            _add_grades(rows, topic, kind, grades, settings)


def _both(pairs: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    names = ("first_value", "second_value")
    first, second = (pairs[name].to_numpy(dtype=float) for name in names)
    return first, second


def _add_offsets(
    rows: ResultRows, topic: Topic, kind: str, pairs: pd.DataFrame, settings: Settings
) -> None:
    first, second = (
        pairs[name].to_numpy(dtype=float) for name in ("first_value", "second_value")
    )
    patient = pairs["patient_id"].to_numpy()
    least = settings.small_numbers.minimum_pairs
    found = clustered_limits(
        second, first, patient=patient, tooth=pairs["treatment_id"],
        minimum_pairs=least,
    )  # fmt: skip
    table = np.column_stack([first, second])
    within = intraclass_correlations(table, patient=patient, minimum_rows=max(least, 3))
    for measure, value, unit in (
        ("reader_bias", found.bias, "mm"),
        ("reader_sd", found.standard_deviation, "mm"),
        ("reader_lower_limit", found.lower, "mm"),
        ("reader_upper_limit", found.upper, "mm"),
        ("reader_icc_a_1", within.form("ICC(A,1)"), "coefficient"),
    ):
        rows.add(
            topic, measure, "fill_offset_mm", value, unit=unit, stratum=("readers", kind),
            n_clusters=found.n_patients,
        )  # fmt: skip


def _add_grades(
    rows: ResultRows, topic: Topic, kind: str, pairs: pd.DataFrame, settings: Settings
) -> None:
    first, second = (
        pairs[name].to_numpy(dtype=float) for name in ("first_value", "second_value")
    )
    patient = pairs["patient_id"].to_numpy()
    least = settings.small_numbers.minimum_pairs
    same = clustered_proportion_of_rows(first == second, patient)
    raw = same.wilson_icc if same.wilson_icc.valid else same.naive
    if len(pairs) < settings.small_numbers.minimum_denominator:
        reason = f"fewer than {settings.small_numbers.minimum_denominator} films read twice"
        raw = refused(reason, method=raw.method, n_used=len(pairs))
    kappa = kappa_of_readings(
        first, second, categories=PAI_GRADES, patient=patient, weights="quadratic",
        minimum_units=least,
    )  # fmt: skip
    counts, grades = rating_counts(np.column_stack([first, second]), PAI_GRADES)
    weights = category_weights(grades, "quadratic")
    gwet = gwet_ac(counts, weights=weights, patient=patient, minimum_units=least)
    alpha = krippendorff_alpha(
        counts, categories=grades, metric="ordinal", patient=patient, minimum_units=least
    )
    values: tuple[tuple[str, Estimate], ...] = (
        ("raw_agreement", raw),
        ("weighted_kappa", kappa.kappa),
        ("gwet_ac2", gwet.coefficient),
        ("krippendorff_alpha", alpha.coefficient),
    )
    for measure, value in values:
        is_share = measure == "raw_agreement"
        rows.add(
            topic, measure, "pai", value, unit="proportion" if is_share else "coefficient",
            stratum=("readers", kind),
            numerator=int(np.sum(first == second)) if is_share else None,
            denominator=len(pairs) if is_share else None, n_clusters=same.n_clusters,
        )  # fmt: skip
