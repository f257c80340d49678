"""Cases of regression for clustered, sparse and ordered outcomes."""

from collections.abc import Callable

import numpy as np
import pandas as pd

from lengthwise.statistics.outcome.brant import brant_test
from lengthwise.statistics.outcome.discrete_time import fit_discrete_time
from lengthwise.statistics.outcome.firth import fit_firth
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.ordinal import fit_proportional_odds, parallel_test
from lengthwise.statistics.outcome.regression import fit_logistic, fit_modified_poisson
from lengthwise.statistics.outcome.rows import inverse_cluster_sizes
from reference.adapters.outcome_formulas import Arguments, Numbers, design, numbers

HOUSING = {
    "Infl": ["Low", "Medium", "High"],
    "Type": ["Tower", "Apartment", "Atrium", "Terrace"],
    "Cont": ["Low", "High"],
    "Sat": ["Low", "Medium", "High"],
}


def _logistic(frame: pd.DataFrame, given: Arguments) -> Numbers:
    y, x, terms = design(frame, given["formula"])
    return numbers(fit_logistic(y, x, terms=terms), given.get("order"))


def _gee(
    correlation: str | None, covariance: str, *, by_size: bool = False
) -> Callable[[pd.DataFrame, Arguments], Numbers]:
    def answer(frame: pd.DataFrame, given: Arguments) -> Numbers:
        y, x, terms = design(frame, given["formula"])
        group = frame[given["group"]]
        named = {"exch": "exchangeable", "ind": "independence"}
        fit = fit_gee(
            y,
            x,
            group,
            terms=terms,
            family=given.get("family", "binomial"),
            correlation=correlation or named[given["corr"]],
            covariance=covariance,
            weights=inverse_cluster_sizes(group) if by_size else None,
        )
        return numbers(fit)

    return answer


def _modified_poisson(frame: pd.DataFrame, given: Arguments) -> Numbers:
    y, x, terms = design(frame, given["formula"])
    fit = fit_modified_poisson(y, x, terms=terms)
    ratios = [fit.ratio(term).estimate for term in terms]
    return {"est": fit.vector(), "se_hc0": fit.standard_errors, "rr": ratios}


def _firth(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    if frame is not None:
        y, x, terms = design(frame, given["formula"])
    else:
        y, x, terms = _firth_inline(given)
    found = fit_firth(y, x, terms=terms)
    return {
        **numbers(found.fit),
        "se_fisher": found.fisher_standard_errors,
        "pl_lo": [item.lower for item in found.fit.coefficients],
        "pl_hi": [item.upper for item in found.fit.coefficients],
        "p": found.fit.p_values,
        "penalised_loglik": found.fit.log_likelihood,
        "ml_valid": fit_logistic(y, x, terms=terms).valid,
    }


def _firth_inline(given: Arguments) -> tuple[np.ndarray, np.ndarray, tuple[str, ...]]:
    if isinstance(given["x"], str):
        # The case is written in words: level A 3 of 20, level B 0 of 8.
        x, y = np.repeat([0.0, 1.0], [20, 8]), np.repeat([1.0, 0.0], [3, 25])
    else:
        x, y = np.array(given["x"], dtype=float)[:, 0], np.array(given["y"], dtype=float)
    return y, np.column_stack([np.ones(x.size), x]), ("intercept", "x")


def _housing(
    frame: pd.DataFrame, given: Arguments
) -> tuple[np.ndarray, np.ndarray, tuple[str, ...]]:
    ordered = frame.assign(
        **{name: pd.Categorical(frame[name], levels) for name, levels in HOUSING.items()}
    )
    ordered["Sat"] = ordered["Sat"].cat.codes
    y, x, terms = design(ordered, given["formula"])
    return y, x[:, 1:], terms[1:]


def _proportional_odds(frame: pd.DataFrame, given: Arguments) -> Numbers:
    category, x, terms = _housing(frame, given)
    fit = fit_proportional_odds(category, x, terms=terms, weights=frame[given["weights"]])
    slopes = len(terms)
    names = [*given["order"][:slopes], *fit.terms[slopes:]]
    return numbers(fit, names)


def _parallel(frame: pd.DataFrame, given: Arguments) -> Numbers:
    category, x, _ = _housing(frame, given)
    found = parallel_test(category, x, weights=frame[given["weights"]])
    return {
        "loglik_parallel": found.log_likelihood_parallel,
        "loglik_nonparallel": found.log_likelihood_separate,
        "lr": found.statistic,
        "df": found.degrees_of_freedom,
        "p": found.p_value,
    }


def _column(frame: pd.DataFrame, name: str) -> np.ndarray:
    if "==" in name:
        column, value = name.split("==")
        values = frame[column]
        return np.where(values.isna(), np.nan, (values == value).astype(float))
    return frame[name].to_numpy(dtype=float)


def _brant(frame: pd.DataFrame, given: Arguments) -> Numbers:
    codes = pd.Index(given["order"]).get_indexer(frame[given["y"]]).astype(float)
    codes[codes < 0] = np.nan
    x = np.column_stack([_column(frame, name) for name in given["x"]])
    found = brant_test(codes, x, terms=given["x"])
    rows = [[row.statistic, row.degrees_of_freedom, row.p_value] for row in found.rows]
    whole = found.omnibus
    return {
        "omnibus": [whole.statistic, whole.degrees_of_freedom, whole.p_value],
        "per_coef": rows,
    }


def _cloglog(frame: pd.DataFrame, given: Arguments) -> Numbers:
    fit = fit_discrete_time(
        frame["y"],
        frame["t"],
        frame[["trt", "karno"]],
        terms=("trt", "karno"),
        link="cloglog",
    )
    found = numbers(fit, ["trt", "karno"])
    return {**found, "deviance": -2 * fit.log_likelihood}


METHODS: dict = {
    "logistic": _logistic,
    "gee_exchangeable": _gee("exchangeable", "robust"),
    "gee_independence": _gee("independence", "robust"),
    "gee_robust": _gee(None, "robust"),
    "gee_mancl_derouen": _gee(None, "mancl_derouen"),
    "gee_kauermann_carroll": _gee(None, "kauermann_carroll"),
    "cluster_weighted_gee": _gee("independence", "robust", by_size=True),
    "modified_poisson": _modified_poisson,
    "firth_logistic": _firth,
    "proportional_odds": _proportional_odds,
    "proportional_odds_lr_test": _parallel,
    "brant_test": _brant,
    "discrete_time_cloglog": _cloglog,
}
