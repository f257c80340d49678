"""Cases without events, or with nothing but events."""

import numpy as np
import pandas as pd

from lengthwise.statistics.outcome.attributable import attributable_fraction
from lengthwise.statistics.outcome.crude_ratios import odds_ratio, risk_ratio
from lengthwise.statistics.outcome.exact_table import exact_p_value
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.survival import kaplan_meier
from lengthwise.statistics.process.differences import newcombe_difference
from lengthwise.statistics.process.observed_expected import exact_ratio
from lengthwise.statistics.process.shrinkage_beta import beta_binomial_shrinkage
from lengthwise.statistics.proportions import clustered_proportion, proportion
from reference.adapters.outcome_formulas import Arguments, Numbers


def _interval(events: int, n: int, kind: str) -> list[float]:
    found = proportion(events, n, interval=kind)
    return [found.lower, found.upper]


def _newcombe(given: list[int]) -> list[float]:
    found = newcombe_difference(*given)
    return [found.lower, found.upper]


def _model_valid(event: float, n: int, clusters: int) -> bool:
    x = np.column_stack([np.ones(n), np.arange(n) % 2])
    fit = fit_gee(np.full(n, event), x, np.arange(n) % clusters, terms=("intercept", "x"))
    return fit.valid


def _zero(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    events, n = given["proportion"]
    first, second = given["difference"]
    groups = given["clusters"]
    sizes = np.bincount(np.arange(n) % groups)
    clustered = clustered_proportion(np.zeros(groups), sizes)
    shrunk = beta_binomial_shrinkage(np.zeros(groups, dtype=int), sizes)
    ratio = exact_ratio(given["oe"]["O"], given["oe"]["E"], cases=n)
    curve = kaplan_meier(np.arange(1, n + 1), np.zeros(n), times=[n / 2])
    x = np.column_stack([np.ones(n), np.arange(n) % 2])
    fraction = attributable_fraction(
        np.zeros(n), x, x * [1, 0], np.arange(n) % groups, terms=("intercept", "x")
    )
    return {
        "wilson": _interval(events, n, "wilson"),
        "clopper_pearson": _interval(events, n, "clopper_pearson"),
        "newcombe_0_12_vs_0_15": _newcombe(first),
        "newcombe_0_18_vs_5_20": _newcombe(second),
        "fisher_p_0_18_vs_5_20": exact_p_value(np.array(second[::2]), np.array(second[1::2])),
        "odds_ratio_half_added": odds_ratio(*second).estimate,
        # Where nothing varies the correlation has no value; the interval then uses 0.
        "icc_anova_used": 0.0 if np.isnan(clustered.icc) else clustered.icc,
        "xi": clustered.inflation,
        "rr_0_12_vs_0_15_valid": risk_ratio(*first).valid,
        "model_valid": _model_valid(0.0, n, groups),
        "oe": ratio.estimate,
        "oe_ci_exact": [ratio.lower, ratio.upper],
        "km_surv": curve.points[0].survival.estimate,
        "km_se": curve.points[0].standard_error,
        "beta_binomial_valid": shrunk.valid,
        "attributable_fraction_valid": fraction.fraction.valid,
    }


def _all(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    events, n = given["proportion"]
    first, second = given["difference"]
    return {
        "wilson": _interval(events, n, "wilson"),
        "clopper_pearson": _interval(events, n, "clopper_pearson"),
        "newcombe_20_20_vs_20_20": _newcombe(first),
        "newcombe_18_18_vs_15_20": _newcombe(second),
        "model_valid": _model_valid(1.0, n, 10),
        "odds_ratio_valid": odds_ratio(*first).valid,
    }


METHODS: dict = {"zero_events": _zero, "all_events": _all}
