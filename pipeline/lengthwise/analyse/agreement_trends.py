"""Whether a difference grows with length (A5), coefficients (A8), and bias by month."""

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from lengthwise.analyse.agreement_lines import add_lines, repeats_of
from lengthwise.analyse.groups import CANAL, one_row_by_canal
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.agreement.concordance import concordance
from lengthwise.statistics.agreement.deviation_index import deviation_index
from lengthwise.statistics.agreement.equivalence import paired_equivalence
from lengthwise.statistics.agreement.intraclass import intraclass_correlations
from lengthwise.statistics.agreement.proportional_bias import regression_limits
from lengthwise.statistics.clusters import cluster_robust_least_squares
from lengthwise.statistics.results import Estimate

CONFIRMED = "confirmed"
SHARE_OF_INDEX = 0.9


def compared(
    pairs: pd.DataFrame, order: tuple[str, ...]
) -> Iterator[tuple[str, str, pd.DataFrame]]:
    """Yield method, reference and frame: against the confirmed length, then every pair."""
    for method in order:
        own = pairs[pairs["method"] == method]
        yield (
            method,
            CONFIRMED,
            own.rename(
                columns={"length_mm": "method_mm", "confirmed_length_mm": "reference_mm"}
            ),
        )
    keys = [*CANAL, "patient_id"]
    wide = one_row_by_canal(pairs, keys)
    for first, second in itertools.combinations(order, 2):
        both = wide[[*keys, first, second]].dropna(subset=[first, second])
        yield first, second, both.rename(columns={first: "method_mm", second: "reference_mm"})


def analyse_trends_and_coefficients(
    rows: ResultRows, pairs: pd.DataFrame, readings: pd.DataFrame, order: tuple[str, ...],
    period: str, settings: Settings,
) -> None:  # fmt: skip
    """Write A5 and A8 of every comparison that A2 makes."""
    repeats = {method: repeats_of(readings, method) for method in order}
    for method, reference, frame in compared(pairs, order):
        growth = Topic("agreement", "A5", period)
        _add_slope(rows, growth, method, reference, frame, settings)
        add_lines(rows, growth, method, reference, frame, repeats, settings)
        _add_coefficients(
            rows, Topic("agreement", "A8", period), method, reference, frame, settings
        )


def _arrays(frame: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return (
        frame["method_mm"].to_numpy(dtype=float),
        frame["reference_mm"].to_numpy(dtype=float),
        frame["patient_id"].to_numpy(),
    )


def _add_slope(
    rows: ResultRows, topic: Topic, subject: str, reference: str, frame: pd.DataFrame,
    settings: Settings,
) -> None:  # fmt: skip
    method, against, patient = _arrays(frame)
    least = settings.small_numbers.minimum_pairs
    found = regression_limits(method, against, patient=patient, minimum_pairs=least)
    rows.add(
        topic, "slope_on_mean", subject, found.slope, unit="mm per mm", reference=reference,
        n_clusters=found.n_clusters,
    )  # fmt: skip


def _add_coefficients(
    rows: ResultRows, topic: Topic, subject: str, reference: str, frame: pd.DataFrame,
    settings: Settings,
) -> None:  # fmt: skip
    method, against, patient = _arrays(frame)
    least, margin = settings.small_numbers.minimum_pairs, settings.thresholds.tolerance_mm
    lin = concordance(method, against, patient=patient, minimum_pairs=least)
    index = deviation_index(
        method, against, share=SHARE_OF_INDEX, threshold=margin, patient=patient,
        minimum_pairs=least,
    )  # fmt: skip
    tost = paired_equivalence(
        method, against, lower_margin=-margin, upper_margin=margin, patient=patient,
        minimum_pairs=least,
    )  # fmt: skip
    table = np.column_stack([method, against])
    within = intraclass_correlations(table, patient=patient, minimum_rows=max(least, 3))
    counts = (tost.bias.level, tost.bias.n_used, tost.bias.n_missing)
    p_value = Estimate(
        max(tost.p_lower, tost.p_upper), math.nan, math.nan, *counts,
        f"two one-sided tests, margin {margin:g} mm either side", tost.valid, tost.reason,
    )  # fmt: skip
    # The index solves the normal equation; Lin's approximation lends its one-sided bound.
    share = replace(index.index_lin, estimate=index.index_normal)
    for measure, value, unit in (
        ("concordance", lin.z_interval, "coefficient"),
        ("icc_a_1", within.form("ICC(A,1)"), "coefficient"),
        ("deviation_index_90", share, "mm"),
        ("equivalence_bias_90", tost.bias, "mm"),
        ("equivalence_p_value", p_value, "probability"),
    ):
        rows.add(topic, measure, subject, value, unit=unit, reference=reference)


def add_bias_by_month(
    rows: ResultRows, pairs: pd.DataFrame, order: tuple[str, ...], settings: Settings
) -> None:
    """Plot each method's mean difference from the confirmed length by month.

    Months with fewer canals or patients than the minimum are left out of the figure.
    """
    least = settings.small_numbers.minimum_pairs
    known = pairs.dropna(subset=["difference_mm", "month"])
    months = sorted(known["month"].unique())
    for method in order:
        own = known[known["method"] == method]
        for place, month in enumerate(months):
            now = own[own["month"] == month]
            if len(now) < least or now["patient_id"].nunique() < least:
                continue
            fit = cluster_robust_least_squares(
                np.ones((len(now), 1)), now["difference_mm"], now["patient_id"]
            )
            bias = fit.coefficient(0)
            rows.point(
                "bias_by_month", method, "bias", place, bias.estimate, label=month,
                lower=bias.lower, upper=bias.upper, n=len(now),
            )  # fmt: skip
