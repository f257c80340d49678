"""What `compare` works out: limits, repeats, growth with length, coefficients."""

import math
from dataclasses import dataclass, replace

import numpy as np

from lengthwise.statistics.agreement.clustered_limits import clustered_limits
from lengthwise.statistics.agreement.concordance import concordance
from lengthwise.statistics.agreement.deviation_index import deviation_index
from lengthwise.statistics.agreement.equivalence import paired_equivalence
from lengthwise.statistics.agreement.intraclass import intraclass_correlations
from lengthwise.statistics.agreement.limits import limits_of_agreement
from lengthwise.statistics.agreement.proportional_bias import regression_limits
from lengthwise.statistics.agreement.replicates import (
    repeatability,
    replicate_limits_constant,
    replicate_limits_varying,
)
from lengthwise.statistics.agreement.structural_lines import deming_line, passing_bablok_line
from lengthwise.statistics.agreement.variance_ratio import Repeats, variance_ratio_by_patient
from lengthwise.statistics.proportions import clustered_proportion_of_rows, proportion
from lengthwise.statistics.results import Estimate

SHARE_OF_INDEX = 0.9
DRAW = 20240601


@dataclass(frozen=True, slots=True)
class Columns:
    """Two columns (n,) with the labels of patients and of repeated subjects, if named."""

    method: np.ndarray
    reference: np.ndarray
    patient: np.ndarray | None = None
    repeated: np.ndarray | None = None
    is_true_value_constant: bool = True

    @property
    def unit_of_independence(self) -> np.ndarray | None:
        """Return the labels that intervals resample: patients, else repeated subjects."""
        return self.repeated if self.patient is None else self.patient


def limits_of(
    columns: Columns, coverage: float, multiplier: float | None = None
) -> dict[str, Estimate]:
    """Return bias, SD and limits: by patient, from repeats, or exact for independent pairs.

    `multiplier` replaces the multiple of the SD that belongs to `coverage`.
    """
    method, reference = columns.method, columns.reference
    if columns.patient is not None:
        found = clustered_limits(
            method, reference, patient=columns.patient, tooth=columns.repeated,
            coverage=coverage, multiplier=multiplier,
        )  # fmt: skip
        return _named(found.bias, found.standard_deviation, found.lower, found.upper)
    if columns.repeated is not None:
        return _from_repeats(columns, coverage, multiplier)
    plain = limits_of_agreement(method, reference, coverage=coverage, multiplier=multiplier)
    spread = _without_interval(plain.standard_deviation, plain.bias, "divisor n - 1")
    return _named(plain.bias, spread, plain.lower, plain.upper)


def _from_repeats(
    columns: Columns, coverage: float, multiplier: float | None
) -> dict[str, Estimate]:
    from scipy import stats

    method, reference = columns.method, columns.reference
    subject = np.asarray(columns.repeated)
    k = float(stats.norm.ppf((1 + coverage) / 2)) if multiplier is None else multiplier
    if columns.is_true_value_constant:
        found = replicate_limits_constant(method, subject, reference, subject, multiplier=k)
    else:
        found = replicate_limits_varying(method, reference, subject, multiplier=k)
    spread = _without_interval(
        found.standard_deviation, found.bias, "SD of single differences, from repeats"
    )
    return _named(found.bias, spread, found.lower, found.upper)


def _named(
    bias: Estimate, spread: Estimate, lower: Estimate, upper: Estimate
) -> dict[str, Estimate]:
    return {"bias": bias, "sd": spread, "lower_limit": lower, "upper_limit": upper}


def _without_interval(value: float, like: Estimate, method: str) -> Estimate:
    return replace(like, estimate=value, lower=math.nan, upper=math.nan, method=method)


def repeats_of(columns: Columns) -> dict[str, Estimate]:
    """Return within-subject SD and repeatability coefficient of both columns (A3)."""
    if columns.repeated is None:
        return {}
    found = {}
    for name, values in (("method", columns.method), ("reference", columns.reference)):
        own = repeatability(values, columns.repeated, patient=columns.unit_of_independence)
        found[f"within_sd_{name}"] = own.within_subject_sd
        found[f"repeatability_{name}"] = own.repeatability_coefficient
    return found


def _complete_repeats(columns: Columns, values: np.ndarray) -> Repeats:
    known = np.isfinite(values)
    labels = (np.asarray(columns.repeated), np.asarray(columns.unit_of_independence))
    return Repeats(values[known], *(one[known] for one in labels))


def growth_of(columns: Columns) -> dict[str, Estimate]:
    """Return slope of difference on mean, and the Deming and Passing-Bablok lines (A5).

    Deming takes the ratio of error variances from repeats where there are any, else 1.
    Passing-Bablok needs independent pairs: one row of each patient or subject is drawn, the
    same in every run.
    """
    method, reference = columns.method, columns.reference
    unit = columns.unit_of_independence
    found = {"slope_on_mean": regression_limits(method, reference, patient=unit).slope}
    ratio = 1.0
    if columns.repeated is not None:
        own = variance_ratio_by_patient(
            *(_complete_repeats(columns, values) for values in (reference, method))
        )
        found["error_variance_ratio"] = own
        ratio = own.estimate if own.valid else 1.0
    deming = deming_line(reference, method, variance_ratio=ratio, patient=unit)
    chosen = _one_row_of_each(unit, np.isfinite(method) & np.isfinite(reference))
    passing = passing_bablok_line(reference[chosen], method[chosen])
    said = "" if unit is None else "; one row of each, drawn"
    return found | {
        "deming_slope": deming.slope,
        "deming_intercept": deming.intercept,
        "passing_bablok_slope": _with_words(passing.slope, said),
        "passing_bablok_intercept": _with_words(passing.intercept, said),
    }


def _one_row_of_each(unit: np.ndarray | None, known: np.ndarray) -> np.ndarray:
    """Return the places of one complete row per label, or of all rows without labels."""
    places = np.flatnonzero(known)
    if unit is None:
        return places
    drawn = np.random.default_rng(DRAW).permutation(places)
    return np.sort(drawn[np.unique(unit[drawn], return_index=True)[1]])


def _with_words(value: Estimate, words: str) -> Estimate:
    return replace(value, method=value.method + words)


def coefficients_of(columns: Columns, tolerance: float | None) -> dict[str, Estimate]:
    """Return concordance, ICC(A,1), deviation index and, with a margin, equivalence (A8)."""
    method, reference = columns.method, columns.reference
    unit = columns.unit_of_independence
    # The threshold only enters the coverage probability, which is not shown.
    index = deviation_index(
        method, reference, share=SHARE_OF_INDEX, threshold=tolerance or 1.0, patient=unit
    )
    table = np.column_stack([method, reference])
    found = {
        "concordance": concordance(method, reference, patient=unit).z_interval,
        "icc_a_1": intraclass_correlations(table, patient=unit, minimum_rows=10).form(
            "ICC(A,1)"
        ),
        "deviation_index_90": replace(index.index_lin, estimate=index.index_normal),
    }
    if tolerance:
        tost = paired_equivalence(
            method, reference, lower_margin=-tolerance, upper_margin=tolerance, patient=unit
        )
        largest = max(tost.p_lower, tost.p_upper)
        words = f"two one-sided tests, margin {tolerance:g} either side"
        found["equivalence_bias_90"] = tost.bias
        found["equivalence_p_value"] = _without_interval(largest, tost.bias, words)
    return found


def share_of(columns: Columns, tolerance: float) -> tuple[Estimate, int]:
    """Return the share within the tolerance, ends included, and its numerator (A6)."""
    difference = columns.method - columns.reference
    known = np.isfinite(difference)
    inside = np.round(np.abs(difference[known]), 2) <= tolerance + 1e-9
    unit = columns.unit_of_independence
    count = int(inside.sum())
    if unit is None:
        return proportion(count, len(inside), n_missing=int((~known).sum())), count
    return clustered_proportion_of_rows(inside, unit[known]).wilson_icc, count
