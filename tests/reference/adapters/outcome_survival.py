"""Cases of survival and of interval-censored healing."""

import math

import numpy as np
import pandas as pd

from lengthwise.statistics.outcome.discrete_time import fit_discrete_time, predicted_survival
from lengthwise.statistics.outcome.survival import kaplan_meier
from lengthwise.statistics.outcome.turnbull import turnbull
from reference.adapters.outcome_formulas import Arguments, Numbers


def _kaplan_meier(frame: pd.DataFrame, given: Arguments) -> Numbers:
    curve = kaplan_meier(
        frame[given["time"]],
        frame[given["event"]],
        times=given["times"],
        cluster=frame[given["cluster"]],
    )
    points = curve.points
    return {
        "times": [point.time for point in points],
        "n_risk": [point.n_risk for point in points],
        "surv": [point.survival.estimate for point in points],
        "se_greenwood": [point.greenwood_standard_error for point in points],
        "se_cluster": [point.standard_error for point in points],
        "ci_loglog_greenwood": [[p.greenwood.lower, p.greenwood.upper] for p in points],
        "ci_loglog_cluster": [[p.survival.lower, p.survival.upper] for p in points],
        "median": None if math.isnan(curve.median) else curve.median,
    }


def _ties(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    curve = kaplan_meier(given["time"], given["event"])
    return {
        "times": curve.event_times,
        "n_risk": curve.n_risk,
        "events": curve.events,
        "surv": curve.survival,
        "se": curve.standard_errors,
    }


def _turnbull(frame: pd.DataFrame, given: Arguments) -> Numbers:
    column, _, value = given["rows"].split(" ")
    rows = frame[frame[column] == value]
    found = turnbull(
        rows[given["left"]],
        rows[given["right"]].fillna(np.inf),
        times=(5.0, 10.0, 20.0, 24.0, 40.0),
    )
    return {
        "intervals": found.intervals,
        "prob": found.masses,
        "loglik": found.log_likelihood,
        "times": found.times,
        "surv": found.survival,
    }


def _discrete(frame: pd.DataFrame, given: Arguments) -> Numbers:
    patients = frame[given["cluster"]]
    fit = fit_discrete_time(
        frame["y"], frame["t"], frame[["trt"]], terms=("trt",), cluster=patients
    )
    ratio = fit.ratio("trt")
    return {
        "rows": fit.n_used,
        "est": fit.vector(),
        "se_cr1": fit.standard_errors,
        "se_model": np.sqrt(np.diag(fit.model_covariance)),
        "loglik": fit.log_likelihood,
        "or_trt": [ratio.estimate, ratio.lower, ratio.upper],
        "surv_untreated": predicted_survival(fit, [0.0]),
        "surv_treated": predicted_survival(fit, [1.0]),
    }


METHODS: dict = {
    "kaplan_meier_clustered": _kaplan_meier,
    "kaplan_meier_ties": _ties,
    "turnbull_npmle": _turnbull,
    "discrete_time_logit_clustered": _discrete,
}
