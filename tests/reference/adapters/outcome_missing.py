"""Cases of loss to follow-up, imputation and unmeasured confounding."""

import math

import numpy as np
import pandas as pd

from lengthwise.statistics.outcome.followup_bounds import GroupFollowUp, followup_bounds
from lengthwise.statistics.outcome.model_fit import ModelFit
from lengthwise.statistics.outcome.regression import fit_logistic, fit_regression
from lengthwise.statistics.outcome.review_weights import review_weights
from lengthwise.statistics.outcome.rubin import PooledTerm, pool_fits, pool_scalar
from lengthwise.statistics.outcome.sensitivity import e_value, e_value_of_difference
from lengthwise.statistics.outcome.weighted_risks import weighted_risk_difference
from reference.adapters.outcome_formulas import Arguments, Numbers, design


def _pool_lm(frame: pd.DataFrame, given: Arguments) -> Numbers:
    fits = [
        fit_regression(y, x, terms=terms, family="gaussian")
        for y, x, terms in _copies(frame, given)
    ]
    return _pooled(fits, given)


def _pool_logit(frame: pd.DataFrame, given: Arguments) -> Numbers:
    fits = [fit_logistic(y, x, terms=terms) for y, x, terms in _copies(frame, given)]
    return _pooled(fits, given)


def _copies(
    frame: pd.DataFrame, given: Arguments
) -> list[tuple[np.ndarray, np.ndarray, tuple[str, ...]]]:
    groups = frame.groupby(given["imp"], sort=True)
    return [design(copy, given["formula"]) for _, copy in groups]


def _pooled(fits: list[ModelFit], given: Arguments) -> Numbers:
    terms = pool_fits(fits, complete_degrees=given["dfcom"])
    return {
        "est": [term.value.estimate for term in terms],
        "lo": [term.value.lower for term in terms],
        "hi": [term.value.upper for term in terms],
        "se": [term.standard_error for term in terms],
        "df": [term.degrees_of_freedom for term in terms],
        "p": [term.p_value for term in terms],
        "fmi": [term.fraction_missing for term in terms],
        "riv": [term.relative_increase for term in terms],
        "lam": [term.share_of_variance for term in terms],
        "ubar": [term.within for term in terms],
        "b": [term.between for term in terms],
        "t": [term.total for term in terms],
    }


def _pool_scalar(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    complete = math.inf if given["dfcom"] == "inf" else given["dfcom"]
    term: PooledTerm = pool_scalar(given["Q"], given["U"], complete_degrees=complete)
    return {
        "qbar": term.value.estimate,
        "ubar": term.within,
        "b": term.between,
        "t": term.total,
        "df": term.degrees_of_freedom,
        "r": term.relative_increase,
        "fmi": term.fraction_missing,
    }


def _e_value(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    if given["measure"] == "SMD":
        found = e_value_of_difference(given["est"], given["se"])
    else:
        found = e_value(given["est"], given["lo"], given["hi"], measure=given["measure"])
    return {"evalue": found.estimate, "evalue_ci": found.limit}


def _followup(frame: pd.DataFrame, given: Arguments) -> Numbers:
    change = frame["wt82_71"]
    y = np.where(change.isna(), np.nan, (change > 0).astype(float))
    exposed = frame[given["exposure"]].to_numpy(dtype=float)
    bounds = followup_bounds(y, exposed)
    names = {"exposure_terms": (given["exposure"],), "covariate_terms": given["covariates"]}
    covariates = frame[given["covariates"]]
    seen = np.isfinite(y).astype(float)
    plain = review_weights(seen, exposed, covariates, truncation=None, **names)
    cut = review_weights(seen, exposed, covariates, **names)
    risks = weighted_risk_difference(y, exposed, plain.weights)
    return {
        "g0": _group(bounds.reference),
        "g1": _group(bounds.exposed),
        "rd_observed": bounds.difference_observed,
        "rd_lowest": bounds.difference_lowest,
        "rd_highest": bounds.difference_highest,
        "rd_all_missing_events": bounds.difference_all_events,
        "rd_no_missing_events": bounds.difference_no_events,
        "rd_grid": bounds.grid,
        "obs_coef": plain.model.vector(),
        "sw_mean": plain.mean,
        "sw_min": plain.smallest,
        "sw_max": plain.largest,
        "ess": plain.effective_n,
        "risk0_ipw": risks.risk_reference,
        "risk1_ipw": risks.risk_exposed,
        "rd_ipw": risks.difference.estimate,
        "se_rd_hc0": risks.standard_error,
        "rd_ci": [risks.difference.lower, risks.difference.upper],
        "rd_ipw_trunc1_99": weighted_risk_difference(
            y, exposed, cut.weights
        ).difference.estimate,
        "trunc_limits": cut.limits,
    }


def _group(group: GroupFollowUp) -> list[float]:
    return [
        group.n,
        group.observed,
        group.events,
        group.risk_observed,
        group.risk_lowest,
        group.risk_highest,
    ]


METHODS: dict = {
    "rubin_pool_lm": _pool_lm,
    "rubin_pool_logit": _pool_logit,
    "rubin_pool_scalar": _pool_scalar,
    "e_value": _e_value,
    "followup_bounds_ipw": _followup,
}
