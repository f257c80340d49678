"""A1 to A9: each analysis with the options of the pipeline, and its nearest counterpart.

A pair of functions takes the same rows; both return the numbers that they share.
"""

import warnings
from typing import Any

import numpy as np
import pandas as pd

from bench.against_data import CONDITIONS, Canals, canal_rows, reader_rows
from bench.against_pairs import Pair, clustered_least_squares
from bench.bench_agreement import mixed_model
from lengthwise.statistics.agreement import kappa, rater_agreement
from lengthwise.statistics.agreement.clustered_limits import clustered_limits
from lengthwise.statistics.agreement.concordance import concordance
from lengthwise.statistics.agreement.conditions import condition_effects, trend_effect
from lengthwise.statistics.agreement.deviation_index import deviation_index
from lengthwise.statistics.agreement.equivalence import paired_equivalence
from lengthwise.statistics.agreement.intraclass import intraclass_correlations
from lengthwise.statistics.agreement.limits import limits_of_agreement
from lengthwise.statistics.agreement.method_ranking import method_errors
from lengthwise.statistics.agreement.nested_likelihood import nested_components_reml
from lengthwise.statistics.agreement.proportional_bias import regression_limits
from lengthwise.statistics.agreement.replicates import repeatability
from lengthwise.statistics.agreement.shares import paired_shares
from lengthwise.statistics.agreement.structural_lines import deming_line, passing_bablok_line
from lengthwise.statistics.agreement.variance_ratio import Repeats, variance_ratio_by_patient
from lengthwise.statistics.proportions import clustered_proportion_of_rows

TOLERANCE_MM = 0.5
MOST_PATIENTS = 1500
GRADES = np.arange(1, 6)


def a1_ours(rows: Canals) -> tuple[float, ...]:
    found = limits_of_agreement(rows.method, rows.reference)
    return found.bias.estimate, found.bias.lower, found.bias.upper


def a1_theirs(rows: Canals) -> tuple[float, ...]:
    from statsmodels.stats.weightstats import DescrStatsW

    described = DescrStatsW(rows.difference)
    return (float(described.mean), *map(float, described.tconfint_mean()))


def a2_ours(rows: Canals) -> tuple[float, ...]:
    found = clustered_limits(
        rows.method, rows.reference, patient=rows.patient, tooth=rows.tooth
    )
    return (found.bias.estimate,)


def mean_theirs(rows: Canals) -> tuple[float, ...]:
    fit = clustered_least_squares(rows.difference, np.ones((len(rows.method), 1)), rows.patient)
    return (float(fit.params[0]),)


def a2_reml_ours(rows: Canals) -> tuple[float, ...]:
    found = nested_components_reml(rows.difference, {"patient": rows.patient})
    return tuple(map(float, found.variances))


def a2_reml_theirs(rows: Canals) -> tuple[float, ...]:
    _, fit = mixed_model((rows.method, rows.reference, rows.patient, rows.tooth))
    return float(np.asarray(fit.cov_re)[0, 0]), float(fit.scale)


def _twice(rows: Canals) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    canal = np.arange(len(rows.method))
    return (
        np.concatenate([rows.method, rows.again]),
        np.concatenate([canal, canal]),
        np.concatenate([rows.patient, rows.patient]),
    )


def a3_ours(rows: Canals) -> tuple[float, ...]:
    values, canal, patient = _twice(rows)
    return (repeatability(values, canal, patient=patient).within_subject_sd.estimate ** 2,)


def a3_theirs(rows: Canals) -> tuple[float, ...]:
    # Two readings of every canal: the likelihood's error variance is the mean square within.
    values, canal, _ = _twice(rows)
    _, fit = mixed_model((values, np.zeros_like(values), canal, canal))
    return (float(fit.scale),)


def a3_single(rows: Canals) -> tuple[float, ...]:
    values, canal, patient = _twice(rows)
    found = clustered_limits(
        values, np.tile(rows.reference, 2), patient=patient, tooth=np.tile(rows.tooth, 2),
        canal=canal,
    )  # fmt: skip
    return (found.bias.estimate,)


def a4_ours(rows: Canals) -> tuple[float, ...]:
    readings = np.column_stack([rows.method, rows.reference, rows.third])
    found = method_errors(readings, names=("one", "two", "three"), patient=rows.patient)
    return tuple(one.variance for one in found.methods)


def a5_ours(rows: Canals) -> tuple[float, ...]:
    found = regression_limits(rows.method, rows.reference, patient=rows.patient)
    return (found.slope.estimate,)


def a5_theirs(rows: Canals) -> tuple[float, ...]:
    mean = (rows.method + rows.reference) / 2
    design = np.column_stack([np.ones_like(mean), mean])
    return (float(clustered_least_squares(rows.difference, design, rows.patient).params[1]),)


def deming_ours(rows: Canals) -> tuple[float, ...]:
    return (deming_line(rows.reference, rows.method, patient=rows.patient).slope.estimate,)


def deming_theirs(rows: Canals) -> tuple[float, ...]:
    with warnings.catch_warnings():
        # It is to leave scipy one day, which says so.
        warnings.simplefilter("ignore", DeprecationWarning)
        from scipy import odr

        data = odr.Data(rows.reference, rows.method)
        return (float(odr.ODR(data, odr.unilinear, beta0=[1.0, 0.0]).run().beta[0]),)


def passing_bablok_ours(rows: Canals) -> tuple[float, ...]:
    _, first = np.unique(rows.patient, return_index=True)
    drawn = first[:MOST_PATIENTS]
    return (passing_bablok_line(rows.reference[drawn], rows.method[drawn]).slope.estimate,)


def variance_ratio_ours(rows: Canals) -> tuple[float, ...]:
    values, canal, patient = _twice(rows)
    other = np.concatenate([rows.reference, rows.third])
    found = variance_ratio_by_patient(
        Repeats(other, canal, patient), Repeats(values, canal, patient)
    )
    return (found.estimate,)


def _inside(values: np.ndarray) -> np.ndarray:
    return np.abs(values.round(2)) <= TOLERANCE_MM


def a6_ours(rows: Canals) -> tuple[float, ...]:
    found = clustered_proportion_of_rows(_inside(rows.difference), rows.patient).naive
    return found.lower, found.upper


def a6_theirs(rows: Canals) -> tuple[float, ...]:
    from statsmodels.stats.proportion import proportion_confint

    inside = _inside(rows.difference)
    return tuple(map(float, proportion_confint(inside.sum(), inside.size, method="wilson")))


def a6_paired_ours(rows: Canals) -> tuple[float, ...]:
    first, second = _inside(rows.difference), _inside(rows.third - rows.reference)
    return (paired_shares(first, second, rows.patient).difference.estimate,)


def a6_paired_theirs(rows: Canals) -> tuple[float, ...]:
    gap = _inside(rows.difference).astype(float) - _inside(rows.third - rows.reference)
    return (
        float(clustered_least_squares(gap, np.ones((gap.size, 1)), rows.patient).params[0]),
    )


def _dummies(rows: Canals) -> np.ndarray:
    columns = pd.get_dummies(rows.conditions, drop_first=True, dtype=float).to_numpy()
    return np.column_stack([np.ones(len(columns)), columns])


def a7_ours(rows: Canals) -> tuple[float, ...]:
    found = condition_effects(
        rows.method, rows.reference, rows.conditions["state"], patient=rows.patient,
        reference_level="dry", covariates=rows.conditions.drop(columns="state"),
    )  # fmt: skip
    (wet,) = (one for one in found.levels if one.level == CONDITIONS["state"][1])
    return (wet.bias_adjusted_mm.estimate,)


def a7_theirs(rows: Canals) -> tuple[float, ...]:
    fit = clustered_least_squares(rows.difference, _dummies(rows), rows.patient)
    return (float(fit.params[1]),)


def a7_time_ours(rows: Canals) -> tuple[float, ...]:
    found = trend_effect(
        rows.method,
        rows.reference,
        rows.years,
        patient=rows.patient,
        covariates=rows.conditions,
    )
    return (found.bias_adjusted_mm.estimate,)


def a7_time_theirs(rows: Canals) -> tuple[float, ...]:
    design = np.column_stack([_dummies(rows), rows.years])
    return (float(clustered_least_squares(rows.difference, design, rows.patient).params[-1]),)


def a8_concordance(rows: Canals) -> tuple[float, ...]:
    found = concordance(rows.method, rows.reference, patient=rows.patient)
    return (found.z_interval.estimate,)


def a8_index(rows: Canals) -> tuple[float, ...]:
    found = deviation_index(
        rows.method, rows.reference, share=0.9, threshold=TOLERANCE_MM, patient=rows.patient
    )
    return (found.index_normal,)


def a8_equivalence(rows: Canals) -> tuple[float, ...]:
    found = paired_equivalence(
        rows.method, rows.reference, lower_margin=-TOLERANCE_MM, upper_margin=TOLERANCE_MM,
        patient=rows.patient,
    )  # fmt: skip
    return (found.bias.estimate,)


def _apart_ours(rows: Canals) -> tuple[float, ...]:
    found = paired_equivalence(
        rows.method, rows.reference, lower_margin=-TOLERANCE_MM, upper_margin=TOLERANCE_MM
    )
    return found.t_lower, found.t_upper


def _apart_theirs(rows: Canals) -> tuple[float, ...]:
    from statsmodels.stats.weightstats import ttost_paired

    _, low, high = ttost_paired(rows.method, rows.reference, -TOLERANCE_MM, TOLERANCE_MM)
    return float(low[0]), float(high[0])


def a8_intraclass(rows: Canals) -> tuple[float, ...]:
    table = np.column_stack([rows.method, rows.reference])
    found = intraclass_correlations(table, patient=rows.patient, minimum_rows=10)
    return (found.form("ICC(A,1)").estimate,)


def a9_ours(rows: Any) -> tuple[float, ...]:
    first, second, patient = rows
    found = kappa.kappa_of_readings(
        first, second, categories=GRADES, patient=patient, weights="quadratic"
    )
    return (found.kappa.estimate,)


def a9_theirs(rows: Any) -> tuple[float, ...]:
    from statsmodels.stats.inter_rater import cohens_kappa, to_table

    table, _ = to_table(np.column_stack(rows[:2]).astype(int) - 1, bins=5)
    return (float(cohens_kappa(table, wt="quadratic").kappa),)


def _counts(rows: Any) -> tuple[np.ndarray, np.ndarray]:
    return rater_agreement.rating_counts(np.column_stack(rows[:2]), GRADES)


def a9_gwet(rows: Any) -> tuple[float, ...]:
    counts, grades = _counts(rows)
    weights = rater_agreement.category_weights(grades, "quadratic")
    found = rater_agreement.gwet_ac(counts, weights=weights, patient=rows[2])
    return (found.coefficient.estimate,)


def a9_alpha(rows: Any) -> tuple[float, ...]:
    counts, grades = _counts(rows)
    found = rater_agreement.krippendorff_alpha(
        counts, categories=grades, metric="ordinal", patient=rows[2]
    )
    return (found.coefficient.estimate,)


OLS = "OLS, errors by patient"
PAIRS = (
    Pair("A1", "limits, canals apart", canal_rows, a1_ours, a1_theirs, "DescrStatsW"),
    Pair("A2", "clustered limits, jackknife", canal_rows, a2_ours, mean_theirs, OLS),
    Pair(
        "A2",
        "components by REML",
        canal_rows,
        a2_reml_ours,
        a2_reml_theirs,
        "MixedLM",
        closeness=1e-4,
    ),
    Pair(
        "A3",
        "repeatability, two readings",
        canal_rows,
        a3_ours,
        a3_theirs,
        "MixedLM",
        closeness=1e-4,
    ),
    Pair("A3", "limits of single readings", canal_rows, a3_single),
    Pair("A4", "own errors of three methods", canal_rows, a4_ours),
    Pair("A5", "slope and its limits", canal_rows, a5_ours, a5_theirs, OLS),
    Pair(
        "A5", "Deming line", canal_rows, deming_ours, deming_theirs, "scipy ODR", closeness=1e-5
    ),
    Pair("A5", "Passing-Bablok, a canal each", canal_rows, passing_bablok_ours),
    Pair("A5", "ratio of error variances", canal_rows, variance_ratio_ours),
    Pair("A6", "share within 0.5 mm", canal_rows, a6_ours, a6_theirs, "proportion_confint"),
    Pair("A6", "paired shares", canal_rows, a6_paired_ours, a6_paired_theirs, OLS),
    Pair(
        "A7", "condition, bias and spread", canal_rows, a7_ours, a7_theirs, f"{OLS}: bias only"
    ),
    Pair("A7", "calendar time", canal_rows, a7_time_ours, a7_time_theirs, f"{OLS}: bias only"),
    Pair("A8", "concordance", canal_rows, a8_concordance),
    Pair("A8", "total deviation index", canal_rows, a8_index),
    Pair("A8", "equivalence by patient", canal_rows, a8_equivalence, mean_theirs, OLS),
    Pair(
        "A8",
        "equivalence, canals apart",
        canal_rows,
        _apart_ours,
        _apart_theirs,
        "ttost_paired",
    ),
    Pair("A8", "intraclass correlations", canal_rows, a8_intraclass),
    Pair("A9", "weighted kappa of readers", reader_rows, a9_ours, a9_theirs, "cohens_kappa"),
    Pair("A9", "Gwet AC2", reader_rows, a9_gwet),
    Pair("A9", "Krippendorff alpha", reader_rows, a9_alpha),
)
