"""Cases of the crude table, standardised risks and dose-response."""

import math

import numpy as np
import pandas as pd

from lengthwise.statistics.outcome.attributable import attributable_fraction
from lengthwise.statistics.outcome.crude_table import crude_table
from lengthwise.statistics.outcome.dose_response import piecewise_response, spline_response
from lengthwise.statistics.outcome.model_fit import linear_combination
from lengthwise.statistics.outcome.regression import fit_logistic
from lengthwise.statistics.outcome.splines import restricted_cubic_basis
from lengthwise.statistics.outcome.standardisation import StandardisedRisks, standardised_risks
from lengthwise.statistics.results import Estimate
from reference.adapters.outcome_formulas import (
    Arguments,
    Numbers,
    design,
    exposed_design,
    numbers,
)


def _limits(item: Estimate) -> list[float]:
    return [item.lower, item.upper]


def _crude(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    table = crude_table(
        given["levels"], given["not_healed"], given["n"], reference=given["reference"]
    )
    found: Numbers = {
        "chi2": table.test.pearson_chi2,
        "p_chi2": table.test.pearson_p,
        "p_exact": table.test.exact_p,
        "min_expected": table.test.smallest_expected,
        "exact_test_needed": table.test.exact_needed,
    }
    for row in table.rows:
        if row.odds_ratio is None or row.risk_ratio is None or row.test is None:
            continue
        name = row.level_name
        found[f"or_{name}"] = row.odds_ratio.estimate
        found[f"or_{name}_ci"] = _limits(row.odds_ratio)
        found[f"rr_{name}"] = row.risk_ratio.estimate
        found[f"rr_{name}_ci"] = _limits(row.risk_ratio)
        found[f"p_fisher_{name}"] = row.test.exact_p
    return found


def _standardised(frame: pd.DataFrame, given: Arguments) -> Numbers:
    y, x, terms = design(frame, given["formula"])
    name = given["exposure"]
    levels = {str(v): exposed_design(frame, given["formula"], name, v) for v in (0, 1)}
    found = standardised_risks(fit_logistic(y, x, terms=terms), levels, reference="0")
    row = found.row("1")
    return {
        "risk0": found.row("0").risk.estimate,
        "risk1": row.risk.estimate,
        "rd": row.difference.estimate,
        "rd_se": row.difference_standard_error,
        "rd_ci": _limits(row.difference),
        "rr": row.ratio.estimate,
        "logrr_se": row.log_ratio_standard_error,
        "rr_ci": _limits(row.ratio),
    }


def _standardised_levels(frame: pd.DataFrame, given: Arguments) -> Numbers:
    y, x, terms = design(frame, given["formula"])
    name = given["exposure"]
    levels = {str(v): exposed_design(frame, given["formula"], name, v) for v in given["levels"]}
    found = standardised_risks(
        fit_logistic(y, x, terms=terms, cluster=frame[given["cluster"]]),
        levels,
        reference=str(given["levels"][0]),
        design=x,
        level_of_row=[str(v) for v in frame[name]],
    )
    return _levels(found)


def _levels(found: StandardisedRisks) -> Numbers:
    others = found.rows[1:]
    return {
        "risk": [row.risk.estimate for row in found.rows],
        "risk_se": [row.risk_standard_error for row in found.rows],
        "rd": [row.difference.estimate for row in others],
        "rd_se": [row.difference_standard_error for row in others],
        "rd_ci": [_limits(row.difference) for row in others],
        "rr": [row.ratio.estimate for row in others],
        "logrr_se": [row.log_ratio_standard_error for row in others],
        "rr_ci": [_limits(row.ratio) for row in others],
        "share_attributable": [row.share_of_events.estimate for row in others],
        "share_se": [row.share_standard_error for row in others],
        "share_ci": [_limits(row.share_of_events) for row in others],
    }


def _attributable(frame: pd.DataFrame, given: Arguments) -> Numbers:
    y, x, terms = design(frame, given["formula"])
    unexposed = exposed_design(frame, given["formula"], given["exposure"], 0)
    found = attributable_fraction(y, x, unexposed, frame[given["cluster"]], terms=terms)
    return {
        "P": found.observed_share,
        "P0": found.expected_share,
        "af": found.fraction.estimate,
        "se_cluster": found.standard_error,
        "ci": _limits(found.fraction),
        "ci_cloglog": _limits(found.fraction_log_scale),
        "se_independent": found.standard_error_independent,
    }


def _spline(frame: pd.DataFrame, given: Arguments) -> Numbers:
    x = frame[given["x"]]
    value, reference = given["contrast"]
    found = spline_response(frame[given["y"]], x, at=[value], reference=reference)
    gap = restricted_cubic_basis([value], found.knots) - restricted_cubic_basis(
        [reference], found.knots
    )
    contrast = linear_combination(found.fit, np.concatenate([[0.0], gap[0]]))
    half = (contrast.upper - contrast.lower) / 2
    return {
        **numbers(found.fit),
        "knots": found.knots,
        "basis_row1": restricted_cubic_basis(x, found.knots)[0],
        f"logit_{value}_vs_{reference}": found.curve[0].log_odds_ratio.estimate,
        f"se_logit_{value}_vs_{reference}": half / found.fit.critical_value(),
    }


def _dose_response(frame: pd.DataFrame, given: Arguments) -> Numbers:
    shared = {
        "covariates": frame[given["covariates"]],
        "covariate_terms": given["covariates"],
        "cluster": frame[given["cluster"]],
    }
    y, x = frame[given["y"]], frame[given["x"]]
    curve = spline_response(
        y, x, at=given["at"], reference=given["reference"], knots=given["knots"], **shared
    )
    lines = piecewise_response(y, x, breakpoint_=given["breakpoint"], step=10, **shared)
    change = lines.change_of_slope
    z = lines.fit.critical_value()
    return {
        "knots": curve.knots,
        "rcs_coef": curve.fit.vector(),
        "rcs_se_cr1": curve.fit.standard_errors,
        "rcs_loglik": curve.fit.log_likelihood,
        "rcs_contrasts": [_contrast(point, z) for point in curve.curve],
        "nonlinear_wald_chi2": curve.nonlinearity_chi2,
        "nonlinear_wald_p": curve.nonlinearity_p,
        "pw_coef": lines.fit.vector(),
        "pw_se_cr1": lines.fit.standard_errors,
        "pw_loglik": lines.fit.log_likelihood,
        "pw_or_per10_below": [lines.below.estimate, *_limits(lines.below)],
        "pw_or_per10_above": [lines.above.estimate, *_limits(lines.above)],
        "pw_slope_change": [change.estimate, (change.upper - change.lower) / (2 * z)],
    }


def _contrast(point, z: float) -> list[float]:
    log = point.log_odds_ratio
    error = (log.upper - log.lower) / (2 * z)
    ratio = point.odds_ratio
    assert math.isclose(math.exp(log.estimate), ratio.estimate)
    return [log.estimate, error, ratio.estimate, *_limits(ratio)]


METHODS: dict = {
    "level_by_outcome": _crude,
    "marginal_standardisation": _standardised,
    "marginal_standardisation_levels": _standardised_levels,
    "attributable_fraction": _attributable,
    "rcs_logistic": _spline,
    "dose_response": _dose_response,
}
