"""Cases of limits of agreement, components and replicates."""

from typing import Any

import numpy as np
import pandas as pd

from lengthwise.statistics.agreement import tolerance_factors
from lengthwise.statistics.agreement.limits import limits_of_agreement, percentile_limits
from lengthwise.statistics.agreement.nested import nested_components
from lengthwise.statistics.agreement.nested_likelihood import nested_components_reml
from lengthwise.statistics.agreement.replicates import (
    reading_weighted_limits,
    repeatability,
    replicate_limits_constant,
    replicate_limits_varying,
)
from lengthwise.statistics.agreement.shares import share_within
from lengthwise.statistics.results import Estimate
from reference.adapters.columns import column


def pair(estimate: Estimate) -> list[float]:
    return [estimate.lower, estimate.upper]


def single(x: Any, y: Any, k: float) -> dict[str, Any]:
    def limits(interval: str) -> Any:
        return limits_of_agreement(x, y, multiplier=k, interval=interval, minimum_pairs=2)

    exact = limits("exact")
    n = exact.bias.n_used
    got: dict[str, Any] = {
        "bias": exact.bias.estimate,
        "sd": exact.standard_deviation,
        "lower": exact.lower.estimate,
        "upper": exact.upper.estimate,
        "bias_ci": pair(exact.bias),
        "lower_ci_exact_pair": pair(exact.lower),
        "upper_ci_exact_pair": pair(exact.upper),
    }
    for year in ("1986", "1999"):
        one = limits(f"approximate_{year}")
        got[f"lower_ci_{year}"], got[f"upper_ci_{year}"] = pair(one.lower), pair(one.upper)
    got["k_ind_inner"], got["k_ind_outer"] = tolerance_factors.one_limit_factors(n)
    got["k_pair_inner"], got["k_pair_outer"] = tolerance_factors.pair_factors(n)
    return got


def bland_altman_single(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    if "exclude_subject" in arguments:
        data = data[~data["subject"].isin(arguments["exclude_subject"])]
    return single(data[arguments["x"]], data[arguments["y"]], arguments["k"])


def bland_altman_nonparametric(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    x, y = data[arguments["x"]], data[arguments["y"]]
    probabilities = tuple(arguments["probs"])
    got = {
        f"q_{rule}": percentile_limits(
            x, y, probabilities=probabilities, rule=rule
        ).quantiles.tolist()
        for rule in ("linear", "weibull")
    }
    for threshold in (10, 15):
        found = share_within(x, y, threshold_mm=threshold)
        got[f"within{threshold}"] = found.share.estimate
    return got


def _long(data: pd.DataFrame, columns: str | list[str], subject: str | None) -> tuple[Any, Any]:
    if isinstance(columns, str):
        return data[columns].to_numpy(), data[subject].to_numpy()
    labels = np.arange(len(data)) if subject is None else data[subject].to_numpy()
    return data[columns].to_numpy().ravel(), np.repeat(labels, len(columns))


def loa_replicates_constant(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    if "levels" in arguments:
        sides = []
        for one in arguments["levels"]:
            rows = data[data[arguments["method"]] == one]
            sides += [rows[arguments["value"]], rows[arguments["subject"]]]
    else:
        subject = arguments.get("subject")
        sides = [*_long(data, arguments["x"], subject), *_long(data, arguments["y"], subject)]
    found = replicate_limits_constant(*sides, multiplier=arguments["k"])
    return {
        "vw_x": found.within_variance_method,
        "vw_y": found.within_variance_reference,
        "bias": found.bias.estimate,
        "var_means": found.variance_of_means,
        "sd_total": found.standard_deviation,
        "lower": found.lower.estimate,
        "upper": found.upper.estimate,
        "mover_var_ci": list(found.variance_interval),
        "mover_lower_ci": pair(found.lower),
        "mover_upper_ci": pair(found.upper),
        "var_sd": found.variance_of_sd,
        "se_loa": found.standard_error_1999,
    }


def loa_true_value_varies(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    x, y, subject = (data[arguments[name]] for name in ("x", "y", "subject"))
    plain = reading_weighted_limits(x, y, subject, multiplier=arguments["k"])
    anova = plain.anova
    found = replicate_limits_varying(x, y, subject, multiplier=arguments["k"])
    return {
        "bias_obs": plain.bias,
        "ms_between": anova.ms_between,
        "ms_within": anova.ms_within,
        "divisor": anova.n0,
        "var_between": anova.variance_between,
        "sd_total": plain.standard_deviation,
        "lower": plain.lower,
        "upper": plain.upper,
        "zou_mh": 1 / float(np.mean(1 / data.groupby(arguments["subject"]).size())),
        "zou_s2_dbar": found.variance_of_means,
        "zou_sd_total": found.standard_deviation,
        "zou_lower": found.lower.estimate,
        "zou_upper": found.upper.estimate,
        "zou_var_ci": list(found.variance_interval),
        "zou_lower_ci": pair(found.lower),
        "zou_upper_ci": pair(found.upper),
    }


def loa_mixed_model(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    text = arguments["diff"]
    subject = data[arguments["subject"]].to_numpy()
    if "replicate" in text:
        first, second = text.split()[0].split("-")
        blocks = [(data[f"{first}{i}"] - data[f"{second}{i}"]) for i in (1, 2, 3)]
        difference, subject = np.concatenate(blocks), np.tile(subject, 3)
    else:
        difference = column(data, text)
    found = nested_components_reml(difference, {"subject": subject})
    sd = np.sqrt(found.total_variance)
    return {
        "bias": found.mean,
        "se_bias": found.standard_error,
        "var_subject": found.variances[0],
        "var_resid": found.variances[1],
        "sd_total": sd,
        "lower": found.mean - 1.96 * sd,
        "upper": found.mean + 1.96 * sd,
        "loglik": found.log_likelihood,
    }


def nested_variance_components(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    levels = {name: data[name].to_numpy() for name in arguments["levels"]}
    fit = nested_components_reml if arguments.get("method") == "REML" else nested_components
    found = fit(data[arguments["y"]], levels)
    got = {"mean": found.mean, "se_mean": found.standard_error}
    for name, variance in zip(found.names, found.variances, strict=True):
        got["var_resid" if name == "residual" else f"var_{name}"] = variance
    return got


def within_subject_sd(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    values, subject = _long(data, arguments["replicates"], arguments["subject"])
    found = repeatability(values, subject)
    sw = found.within_subject_sd
    return {
        "ms_between": found.ms_between,
        "ms_within": found.ms_within,
        "sw": sw.estimate,
        "sw_ci": pair(sw),
        "repeatability_277": 2.77 * sw.estimate,
        "measurement_error_196": 1.96 * sw.estimate,
        "repeatability_exact": found.repeatability_coefficient.estimate,
    }


METHODS = {
    "bland_altman_single": bland_altman_single,
    "bland_altman_nonparametric": bland_altman_nonparametric,
    "loa_replicates_constant": loa_replicates_constant,
    "loa_true_value_varies": loa_true_value_varies,
    "loa_mixed_model": loa_mixed_model,
    "nested_variance_components": nested_variance_components,
    "within_subject_sd": within_subject_sd,
}
