"""Cases of proportional bias, lines, own errors, shares and conditions."""

from typing import Any

import numpy as np
import pandas as pd

from lengthwise.statistics.agreement.log_variance import log_variance_model
from lengthwise.statistics.agreement.method_ranking import method_errors
from lengthwise.statistics.agreement.proportional_bias import regression_limits
from lengthwise.statistics.agreement.shares import is_within, paired_shares, share_within
from lengthwise.statistics.agreement.spread_ratio import spread_ratio
from lengthwise.statistics.agreement.spread_tests import paired_spread
from lengthwise.statistics.agreement.structural_lines import deming_line, passing_bablok_line
from lengthwise.statistics.clusters import ClusterRobustFit, cluster_robust_least_squares
from reference.adapters.agreement_limits import pair
from reference.adapters.columns import column, design, formula_design, with_indicator


def regression_loa(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    found = regression_limits(data[arguments["x"]], data[arguments["y"]], multiplier=1.96)
    return {
        "b0": found.intercept.estimate,
        "b1": found.slope.estimate,
        "se_b1": found.standard_error_slope,
        "p_b1": found.p_slope,
        "b1_ci": pair(found.slope),
        "s_resid": found.residual_sd,
        "c0": found.spread_intercept,
        "c1": found.spread_slope,
    }


def _robust(fit: ClusterRobustFit) -> dict[str, Any]:
    intervals = [pair(fit.coefficient(i)) for i in range(len(fit.coefficients))]
    return {
        "b": fit.coefficients,
        "se_cr0": fit.se_cr0,
        "se_cr1": fit.se_cr1,
        "se_cr1s": fit.se_cr1s,
        "se_cr2": fit.se_cr2,
        "df_satt": fit.degrees_of_freedom,
        "ci_cr2": intervals,
        "G": fit.n_clusters,
    }


def regression_loa_clustered(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    x, y, cluster = (data[arguments[name]] for name in ("x", "y", "cluster"))
    found = regression_limits(x, y, patient=cluster, multiplier=1.96)
    centre = float(np.mean((x + y) / 2))
    return {
        **_robust(found.robust),
        "resid_sd": found.residual_sd,
        "c0": found.spread_intercept,
        "c1": found.spread_slope,
        "at_mean": centre,
        "limits_at_mean": list(found.limits_at(centre)),
    }


def mean_model_cluster_robust(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    data = with_indicator(data, arguments, "female")
    y, x = formula_design(data, arguments["formula"])
    return _robust(cluster_robust_least_squares(x, y, data[arguments["cluster"]]))


def deming(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    x, y = data[arguments["x"]], data[arguments["y"]]
    found = deming_line(x, y, variance_ratio=arguments.get("lambda", 1))
    return {
        "slope": found.slope.estimate,
        "intercept": found.intercept.estimate,
        "se_slope_jack": found.standard_error_slope,
        "se_int_jack": found.standard_error_intercept,
        "slope_ci_jack": pair(found.slope),
        "int_ci_jack": pair(found.intercept),
    }


def _lines(x: Any, y: Any, minimum: int = 3) -> dict[str, Any]:
    found = passing_bablok_line(x, y, minimum_pairs=minimum)
    return {
        "slope": found.slope.estimate,
        "intercept": found.intercept.estimate,
        "slope_ci": pair(found.slope),
        "int_ci": pair(found.intercept),
    }


def passing_bablok(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    return _lines(data[arguments["x"]], data[arguments["y"]])


def passing_bablok_ties(data: None, arguments: dict[str, Any]) -> dict[str, Any]:
    return _lines(arguments["x"], arguments["y"])


def grubbs_estimators(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    names = tuple(arguments["methods"])
    found = method_errors(data[list(names)], names=names, draws=10)
    methods = found.methods
    return {
        "var": [one.variance for one in methods],
        "sd": [one.standard_deviation.estimate for one in methods],
        "se_var": [one.standard_error_normal for one in methods],
        "se_var_jackknife": [one.standard_error_jackknife for one in methods],
        "bias": [one.bias.estimate for one in methods],
        "process_var": found.process_variance,
        "reml_var": [one.constrained_variance for one in methods],
        "on_boundary": found.on_boundary,
        "negative": [one.is_negative for one in methods],
    }


def grubbs_estimators_clustered(
    data: pd.DataFrame, arguments: dict[str, Any]
) -> dict[str, Any]:
    names = tuple(arguments["methods"])
    stacked = np.concatenate(
        [data[[f"{name}{i}" for name in names]].to_numpy() for i in (1, 2, 3)]
    )
    cluster = np.tile(data[arguments["cluster"]], 3)
    methods = method_errors(stacked, names=names, patient=cluster, draws=10).methods
    return {
        "var": [one.variance for one in methods],
        "se_var_cluster_jackknife": [one.standard_error_jackknife for one in methods],
        "bias": [one.bias.estimate for one in methods],
        "se_bias_cluster_jackknife": [one.bias_standard_error_jackknife for one in methods],
    }


def pitman_morgan(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    found = paired_spread(data[arguments["x"]], data[arguments["y"]])
    return {
        "var_x": found.variance_first,
        "var_y": found.variance_second,
        "r_sum_diff": found.correlation_sum_difference,
        "t": found.t_statistic,
        "df": found.degrees_of_freedom,
        "p": found.p_value,
        "sd_ratio": found.sd_ratio.estimate,
        "sd_ratio_ci": pair(found.sd_ratio),
        "bradley_blackwood_F": found.bradley_blackwood_f,
        "bradley_blackwood_p": found.bradley_blackwood_p,
    }


def share_within_clustered(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    found = share_within(
        data[arguments["x"]],
        data[arguments["y"]],
        threshold_mm=arguments["threshold"],
        patient=data[arguments["cluster"]],
    )
    parts = found.clustered
    return {
        "x": found.n_within,
        "n": found.share.n_used,
        "clusters": parts.n_clusters,
        "p": found.share.estimate,
        "icc_anova": parts.icc,
        "xi": parts.inflation,
        "ci_wilson": pair(parts.naive),
        "ci_wilson_icc": pair(found.share),
        "se_ratio": parts.standard_error,
    }


def paired_share_difference_clustered(
    data: pd.DataFrame, arguments: dict[str, Any]
) -> dict[str, Any]:
    cluster = data[arguments["cluster"]].to_numpy()
    if "a" in arguments:
        first, second = data[arguments["a"]], data[arguments["b"]]
    else:
        number = range(1, arguments["replicates"] + 1)
        sides = []
        for text in (arguments["d1"], arguments["d2"]):
            left, right = text.split("-")
            gaps = np.concatenate([data[f"{left}{i}"] - data[f"{right}{i}"] for i in number])
            sides.append(is_within(gaps, arguments["threshold"]))
        first, second = sides
        cluster = np.tile(cluster, arguments["replicates"])
    found = paired_shares(first, second, cluster)
    return {
        "p1": found.first,
        "p2": found.second,
        "diff": found.difference.estimate,
        "se_cr0": found.standard_error_cr0,
        "se_cr1": found.standard_error_cr1,
        "ci_t": pair(found.difference),
        "table": list(found.table),
        "obuchowski_chi2": found.obuchowski_statistic,
        "obuchowski_p": found.obuchowski_p,
        "durkalski_chi2": found.durkalski_statistic,
        "mcnemar_chi2": found.mcnemar_statistic,
        "clusters": found.n_clusters,
    }


def gls_varident(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    group = data[arguments["group"]].astype(str)
    second = (group != arguments["reference"]).to_numpy()
    data = data.assign(female=(group == "Female").astype(float))
    y, x = formula_design(data, arguments["formula"])
    got: dict[str, Any] = {}
    for prefix, restricted in (("reml", True), ("ml", False)):
        found = spread_ratio(y, x, second, restricted=restricted)
        got |= {
            f"{prefix}_b": found.mean_coefficients,
            f"{prefix}_se": found.mean_se,
            f"{prefix}_sd_ref": found.sd_reference,
            f"{prefix}_sd_ratio": found.wald.estimate,
            f"{prefix}_log_ratio_se": found.log_ratio_se,
            f"{prefix}_sd_ratio_ci": pair(found.wald),
            f"{prefix}_lr_chi2": found.likelihood_ratio,
            f"{prefix}_lr_p": found.p_value,
            f"{prefix}_sd_ratio_ci_profile": pair(found.profile),
        }
    return got


def log_variance(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    y, x, z = (
        column(data, arguments["y"]),
        design(data, arguments["mean"]),
        design(data, arguments["logvar"]),
    )
    got: dict[str, Any] = {}
    for prefix, restricted in (("reml", True), ("ml", False)):
        found = log_variance_model(y, x, z, restricted=restricted)
        got |= {
            f"{prefix}_beta": found.mean_coefficients,
            f"{prefix}_gamma": found.variance_coefficients,
            f"{prefix}_se_beta": found.mean_se,
            f"{prefix}_se_gamma": found.variance_se,
        }
    return {**got, "ml_m2ll": found.minus_two_log_likelihood}


def log_variance_clustered(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    x, z = design(data, arguments["mean"]), design(data, arguments["logvar"])
    y, cluster = column(data, arguments["y"]), data[arguments["cluster"]]
    found = log_variance_model(y, x, z, patient=cluster)
    ratio = found.sd_ratio(1, errors="cr1")
    return {
        "beta": found.mean_coefficients,
        "gamma": found.variance_coefficients,
        "m2ll": found.minus_two_log_likelihood,
        "se_beta_cr0": found.mean_se_cr0,
        "se_gamma_cr0": found.variance_se_cr0,
        "se_beta_cr1": found.mean_se_cr1,
        "se_gamma_cr1": found.variance_se_cr1,
        "clusters": found.n_clusters,
        "sd_ratio_per_unit": ratio.estimate,
        "sd_ratio_ci_t": pair(ratio),
    }


METHODS = {
    "regression_loa": regression_loa,
    "regression_loa_clustered": regression_loa_clustered,
    "mean_model_cluster_robust": mean_model_cluster_robust,
    "deming": deming,
    "passing_bablok": passing_bablok,
    "passing_bablok_ties": passing_bablok_ties,
    "grubbs_estimators": grubbs_estimators,
    "grubbs_estimators_clustered": grubbs_estimators_clustered,
    "pitman_morgan": pitman_morgan,
    "share_within_clustered": share_within_clustered,
    "paired_share_difference_clustered": paired_share_difference_clustered,
    "gls_varident": gls_varident,
    "log_variance_model": log_variance,
    "log_variance_model_clustered": log_variance_clustered,
}
