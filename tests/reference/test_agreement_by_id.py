"""A1 to A10 against R, on an awkward table (unbalanced, ties, few patients) and on demo rows.

Source of every number: tables/agreement_by_id.json, written by scripts/agreement_by_id.R with
the versions named in it: packages clubSandwich (coef_test, CR2), nlme (gls with varIdent), lme4
(lmer), and otherwise formulas written out on the rows, patients left out in loops. The tables:
`awkward` was made for this check, `demo` holds canals of the demo dataset read by four methods,
and the grades of its films read twice. R is not needed here.
"""

import json
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from lengthwise.statistics.agreement.clustered_limits import clustered_limits
from lengthwise.statistics.agreement.concordance import concordance
from lengthwise.statistics.agreement.conditions import condition_effects
from lengthwise.statistics.agreement.deviation_index import deviation_index
from lengthwise.statistics.agreement.discordance import discordant_canals
from lengthwise.statistics.agreement.equivalence import paired_equivalence
from lengthwise.statistics.agreement.intraclass import intraclass_correlations
from lengthwise.statistics.agreement.kappa import kappa_of_readings
from lengthwise.statistics.agreement.limits import limits_of_agreement
from lengthwise.statistics.agreement.log_variance import log_variance_model
from lengthwise.statistics.agreement.method_ranking import method_errors
from lengthwise.statistics.agreement.nested_likelihood import nested_components_reml
from lengthwise.statistics.agreement.proportional_bias import regression_limits
from lengthwise.statistics.agreement.rater_agreement import (
    category_weights,
    gwet_ac,
    krippendorff_alpha,
    rating_counts,
)
from lengthwise.statistics.agreement.replicates import repeatability, replicate_limits_constant
from lengthwise.statistics.agreement.shares import is_within, paired_shares, share_within
from lengthwise.statistics.agreement.spread_ratio import spread_ratio
from lengthwise.statistics.agreement.structural_lines import deming_line, passing_bablok_line
from lengthwise.statistics.clusters import cluster_robust_least_squares
from lengthwise.statistics.results import Estimate
from reference.runner import HERE

EXPECTED = json.loads((HERE / "tables" / "agreement_by_id.json").read_text(encoding="utf-8"))[
    "values"
]
METHODS = ("electronic", "film", "tactile", "other")
GRADES = (1.0, 2.0, 3.0, 4.0, 5.0)
Found = dict[str, list[float]]


def ends(one: Estimate) -> list[float]:
    return [one.estimate, one.lower, one.upper]


def single_limits(d: pd.DataFrame) -> Found:
    x, y = d["electronic"], d["confirmed"]
    pair = limits_of_agreement(x, y)
    return {
        "A1.bias": ends(pair.bias),
        "A1.one_limit": ends(limits_of_agreement(x, y, interval="exact_one_limit").upper),
        "A1.pair": ends(pair.lower),
        "A1.approximate_1999": ends(
            limits_of_agreement(x, y, interval="approximate_1999").upper
        ),
    }


def limits_by_patient(d: pd.DataFrame) -> Found:
    found = clustered_limits(
        d["electronic"], d["confirmed"], patient=d["patient"], tooth=d["tooth"]
    )
    reml = nested_components_reml(d["electronic"] - d["confirmed"], {"patient": d["patient"]})
    return {
        "A2.bias": ends(found.bias),
        "A2.sd": ends(found.standard_deviation),
        "A2.lower": ends(found.lower),
        "A2.upper": ends(found.upper),
        "A2.reml": list(reml.variances),
    }


def repeats(d: pd.DataFrame) -> Found:
    twice = d[d["again"].notna()].reset_index(drop=True)
    values = np.concatenate([twice["electronic"], twice["again"]])
    subject = np.tile(np.arange(len(twice)), 2)
    found = repeatability(values, subject)
    people = np.tile(twice["patient"], 2)
    by_patient = repeatability(values, subject, patient=people, minimum_subjects=1)
    limits = replicate_limits_constant(values, subject, twice["confirmed"], twice.index)
    return {
        "A3.within_sd": ends(found.within_subject_sd),
        "A3.within_sd_by_patient": ends(by_patient.within_subject_sd),
        "A3.coefficient": [found.repeatability_coefficient.estimate],
        "A3.constant_upper": ends(limits.upper),
    }


def own_errors(d: pd.DataFrame) -> Found:
    found = method_errors(d[list(METHODS)], names=METHODS, patient=d["patient"], draws=50)
    each = found.methods
    return {
        "A4.variances": [one.variance for one in each],
        "A4.relative_bias": [one.bias.estimate for one in each],
        "A4.variance_errors": [one.standard_error_jackknife for one in each],
        "A4.bias_errors": [one.bias_standard_error_jackknife for one in each],
        "A4.sd": [value for one in each for value in ends(one.standard_deviation)],
        "A4.likelihood": [one.constrained_variance for one in each],
    }


def growth(d: pd.DataFrame) -> Found:
    slope = regression_limits(d["film"], d["confirmed"], patient=d["patient"]).slope
    line = deming_line(d["confirmed"], d["film"], variance_ratio=2.0, patient=d["patient"])
    first = d.drop_duplicates("patient")
    rank = passing_bablok_line(first["confirmed"], first["film"])
    return {
        "A5.slope": ends(slope),
        "A5.deming": ends(line.slope) + ends(line.intercept),
        "A5.passing_bablok": [*ends(rank.slope), rank.intercept.estimate],
    }


def shares(d: pd.DataFrame) -> Found:
    share = share_within(
        d["electronic"], d["confirmed"], threshold_mm=0.5, patient=d["patient"]
    )
    one, two = (is_within(d[name] - d["confirmed"], 0.5) for name in ("electronic", "film"))
    return {
        "A6.share": ends(share.share),
        "A6.difference": ends(paired_shares(one, two, d["patient"]).difference),
    }


def conditions(d: pd.DataFrame) -> Found:
    found = condition_effects(
        d["electronic"], d["confirmed"], d["wet"], patient=d["patient"], reference_level="0",
        covariates=d[["file"]],
    )  # fmt: skip
    wet = next(one for one in found.levels if one.level == "1")
    design = np.column_stack([np.ones(len(d)), d["wet"]])
    apart = (d["electronic"] - d["confirmed"]).to_numpy()
    ratio = spread_ratio(apart, design, d["wet"] == 1)
    whole = np.column_stack([design, pd.get_dummies(d["file"], dtype=float).iloc[:, 1:]])
    sandwich = log_variance_model(apart, whole, whole, patient=d["patient"])
    return {
        "A7.shift": ends(wet.bias_adjusted_mm),
        "A7.shift_crude": ends(wet.bias_crude_mm),
        "A7.sd_ratio": ends(wet.sd_ratio_adjusted),
        "A7.sd_ratio_sandwich": ends(sandwich.sd_ratio(1, errors="cr1")),
        "A7.gls_ratio": [ratio.profile.estimate],
    }


def coefficients(d: pd.DataFrame) -> Found:
    x, y, patient = d["film"], d["confirmed"], d["patient"]
    table = np.column_stack([x, y])
    clustered, rows = (intraclass_correlations(table, patient=one) for one in (patient, None))
    index = deviation_index(x, y, share=0.9, threshold=1.0, patient=patient)
    tost = paired_equivalence(x, y, lower_margin=-0.5, upper_margin=0.5, patient=patient)
    return {
        "A8.concordance": ends(concordance(x, y, patient=patient).z_interval),
        "A8.icc_a_1": ends(clustered.form("ICC(A,1)")),
        "A8.icc_c_1": [rows.form("ICC(C,1)").estimate],
        "A8.icc_a_1_rows": ends(rows.form("ICC(A,1)")),
        "A8.deviation_index": [index.index_normal],
        "A8.equivalence_p": [max(tost.p_lower, tost.p_upper)],
    }


def readers(d: pd.DataFrame) -> Found:
    first, second, patient = d["first_grade"], d["second_grade"], d["patient"]
    kappa = kappa_of_readings(
        first, second, categories=GRADES, patient=patient, weights="quadratic"
    )
    counts, grades = rating_counts(np.column_stack([first, second]), GRADES)
    weights = category_weights(grades, "quadratic")
    alpha = krippendorff_alpha(counts, categories=grades, metric="ordinal", patient=patient)
    return {
        "A9.kappa": ends(kappa.kappa),
        "A9.alpha": ends(alpha.coefficient),
        "A9.ac2": ends(gwet_ac(counts, weights=weights, patient=patient).coefficient),
    }


def discordance(d: pd.DataFrame) -> Found:
    apart = discordant_canals(d["electronic"], d["film"]).status == "review"
    design = np.column_stack([np.ones(len(d)), apart])
    fit = cluster_robust_least_squares(design, d["wet"], d["patient"])
    return {
        "A10.difference": ends(fit.coefficient(1)),
        "A10.discordant": [float(apart.sum())],
    }


ON_LENGTHS: tuple[Callable[[pd.DataFrame], Found], ...] = (
    single_limits, limits_by_patient, repeats, own_errors, growth, shares, conditions,
    coefficients, discordance,
)  # fmt: skip


def table(name: str) -> pd.DataFrame:
    return pd.read_csv(HERE / "tables" / f"agreement_{name}.csv")


def agree(found: Found, name: str) -> None:
    for key, values in found.items():
        if key in EXPECTED[name]:
            wanted = np.atleast_1d(EXPECTED[name][key])
            assert values == pytest.approx(wanted, rel=1e-6, abs=1e-9), key


@pytest.mark.parametrize("name", ["awkward", "demo"])
@pytest.mark.parametrize("ours", ON_LENGTHS, ids=lambda one: one.__name__)
def test_numbers_of_lengths_match_r(ours: Callable[[pd.DataFrame], Found], name: str) -> None:
    agree(ours(table(name)), name)


@pytest.mark.parametrize(("name", "file"), [("awkward", "awkward"), ("demo", "demo_grades")])
def test_numbers_of_readers_match_r(name: str, file: str) -> None:
    agree(readers(table(file)), name)


@pytest.mark.parametrize("name", ["awkward", "demo"])
def test_every_number_of_r_is_compared(name: str) -> None:
    lengths, grades = table(name), table("demo_grades" if name == "demo" else name)
    compared = {key for ours in ON_LENGTHS for key in ours(lengths)} | set(readers(grades))
    assert set(EXPECTED[name]) <= compared
    assert {key.partition(".")[0] for key in EXPECTED[name]} == {
        f"A{number}" for number in range(1, 11)
    }
