"""Cases of fill level, charts, pooling and planning."""

from typing import Any

import numpy as np
import pandas as pd
from scipy import special, stats

from lengthwise.statistics import planning
from lengthwise.statistics.pooling import pool_moments, site_sums
from lengthwise.statistics.process.case_mix import expected_risks
from lengthwise.statistics.process.cusum import cusum_weights
from lengthwise.statistics.process.differences import newcombe_difference, newcombe_paired
from lengthwise.statistics.process.funnel import funnel_limits
from lengthwise.statistics.process.individuals_chart import xmr_chart
from lengthwise.statistics.process.observed_expected import observed_expected
from lengthwise.statistics.process.overdispersion import funnel_overdispersion
from lengthwise.statistics.process.period_change import period_change
from lengthwise.statistics.process.proportion_charts import laney_p_chart, p_chart, u_chart
from lengthwise.statistics.process.recall import recall_rate
from lengthwise.statistics.process.run_chart import run_chart_limits
from lengthwise.statistics.process.shrinkage_beta import (
    beta_binomial_shrinkage,
    beta_from_moments,
)
from lengthwise.statistics.process.shrinkage_logit import logit_normal_shrinkage
from lengthwise.statistics.random_effects import (
    RandomEffects,
    pooled_proportion,
    random_effects,
)

Arguments = dict[str, Any]
Numbers = dict[str, Any]
INTERVALS = {None: "wald", "HK": "hartung-knapp", "HK-modified": "hartung-knapp-modified"}


def _newcombe(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    found = newcombe_difference(given["x1"], given["n1"], given["x2"], given["n2"])
    return {"diff": found.estimate, "ci": [found.lower, found.upper]}


def _newcombe_paired(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    cells = [given[name] for name in ("both", "first_only", "second_only", "neither")]
    with_, without = (newcombe_paired(*cells, continuity=flag) for flag in (True, False))
    return {
        "diff": with_.estimate,
        "m10": [with_.lower, with_.upper],
        "m8_nophi_cc": [without.lower, without.upper],
    }


def _rows(frame: pd.DataFrame, text: str) -> pd.DataFrame:
    """Rows of a text such as `1-30 without 15, 23`, numbers from 1."""
    span, _, left_out = text.partition(" without ")
    first, last = (int(part) for part in span.split("-"))
    without = {int(part) for part in left_out.split(",")} if left_out else set()
    return frame.iloc[[n - 1 for n in range(first, last + 1) if n not in without]]


def _p_chart(frame: pd.DataFrame, given: Arguments) -> Numbers:
    used = _rows(frame, given["rows"])
    chart = p_chart(used[given["x"]], used[given["n"]])
    return {
        "center": chart.centre,
        "lcl": chart.lower[0],
        "ucl": chart.upper[0],
        "beyond": [position + 1 for position in chart.outside],
    }


def _u_chart(frame: pd.DataFrame, given: Arguments) -> Numbers:
    chart = u_chart(frame[given["x"]], frame[given["n"]])
    pairs = zip(chart.lower, chart.upper, strict=True)
    return {"center": chart.centre, "limits": [limit for pair in pairs for limit in pair]}


def _xmr_chart(frame: pd.DataFrame, given: Arguments) -> Numbers:
    exact = xmr_chart(frame[given["x"]])
    tabled = xmr_chart(frame[given["x"]], range_constant=1.128)
    return {
        "center": exact.centre,
        "mr_bar": exact.dispersion,
        "lcl": exact.lower[0],
        "ucl": exact.upper[0],
        "lcl_1128": tabled.lower[0],
        "ucl_1128": tabled.upper[0],
    }


def _laney_p_chart(frame: pd.DataFrame, given: Arguments) -> Numbers:
    chart = laney_p_chart(frame[given["x"]], frame[given["n"]])
    return {
        "center": chart.centre,
        "sigma_z": chart.dispersion,
        "lcl": list(chart.lower),
        "ucl": list(chart.upper),
    }


def _funnel_limits(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    found = funnel_limits(given["n"], given["theta"])
    return {
        "lo95": list(found.lower_95),
        "hi95": list(found.upper_95),
        "lo998": list(found.lower_998),
        "hi998": list(found.upper_998),
    }


def _funnel_overdispersion(frame: pd.DataFrame, given: Arguments) -> Numbers:
    found = funnel_overdispersion(
        frame[given["y"]],
        frame[given["n"]],
        scale="proportion",
        winsorised_share=given["winsor"],
    )
    return {
        "theta": found.target,
        "phi": found.phi,
        "phi_winsor": found.phi_winsorised,
        "tau2": found.tau_squared,
    }


def _racusum_scores(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    intercept, slope = given["logit"]
    # The paper prints the risk at the largest score, 71, beside those of the examples.
    scores = np.array([*given["scores"], 71.0])
    risk = special.expit(intercept + slope * scores)
    ratios = np.atleast_1d(given["RA"]).tolist()
    weights = {ratio: _no_then_yes(risk[:-1], ratio) for ratio in {*ratios, 0.5}}
    found = {"p": risk.tolist(), "w_RAhalf": weights[0.5], "w_half": weights[0.5][0]}
    return {**found, "w": weights[ratios[0]], "w_RA2": weights[ratios[0]]}


def _no_then_yes(risk: np.ndarray, odds_ratio: float) -> list[float]:
    event, none = cusum_weights(risk, odds_ratio)
    return np.column_stack([none, event]).ravel().tolist()


def _meta_numbers(found: RandomEffects) -> Numbers:
    return {
        "est": found.pooled.estimate,
        "se": found.standard_error,
        "ci": [found.pooled.lower, found.pooled.upper],
        "tau2": found.tau_squared.estimate,
        "tau2_ci_qprofile": [found.tau_squared.lower, found.tau_squared.upper],
        "I2": 100 * found.i_squared,
        "Q": found.q,
        "Q_p": found.q_p,
        "pi": [found.prediction.lower, found.prediction.upper],
        "se_wald": found.wald_standard_error,
        "hk_scale": found.hartung_knapp_scale,
    }


def _estimates(frame: pd.DataFrame | None, given: Arguments) -> tuple[Any, Any]:
    if frame is None:
        return given["y"], given["v"]
    if given.get("effect") == "log odds ratio":
        cells = [frame[name].astype(float) for name in ("tpos", "tneg", "cpos", "cneg")]
        logs = [np.log(cell) for cell in cells]
        return logs[0] - logs[1] - logs[2] + logs[3], sum(1 / cell for cell in cells)
    return frame[given.get("y", "yi")], frame[given.get("v", "vi")]


def _meta_random(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    y, v = _estimates(frame, given)
    interval = INTERVALS[given.get("test")]
    main = random_effects(y, v, estimator=given["method"], interval=interval)
    plain = random_effects(y, v, estimator=given["method"], interval="hartung-knapp")
    higgins = random_effects(y, v, estimator=given["method"], higgins_prediction=True)
    return {
        **_meta_numbers(main),
        "se_hk_mod": main.standard_error,
        "ci_hk_mod": [main.pooled.lower, main.pooled.upper],
        "ci_hk_plain": [plain.pooled.lower, plain.pooled.upper],
        "pi_tkm1_modse": [main.prediction.lower, main.prediction.upper],
        "pi_tkm2_waldse": [higgins.prediction.lower, higgins.prediction.upper],
        "p_hk_mod": main.p_value,
    }


def _meta_proportion(frame: pd.DataFrame, given: Arguments) -> Numbers:
    interval = INTERVALS[given.get("test")]
    events, cases = frame[given["x"]], frame[given["n"]]
    return _meta_numbers(
        pooled_proportion(events, cases, estimator=given["method"], interval=interval)
    )


def _run_chart_limits(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    found = [run_chart_limits(n) for n in given["n"]]
    return {
        "longest_run_max": [limits.longest_run for limits in found],
        "crossings_min": [limits.crossings for limits in found],
    }


def _beta_binomial(frame: pd.DataFrame, given: Arguments) -> Numbers:
    events, cases = frame[given["y"]], frame[given["n"]]
    units = [1, 22, 33, 67, 71]
    shares = (events / cases).iloc[:70]
    alpha, beta = beta_from_moments(shares)
    fit = beta_binomial_shrinkage(events, cases)
    # The book rounds the moments to (1.4, 8.6) before it takes the 71st experiment.
    book = stats.beta(1.4 + events.iloc[70], 8.6 + cases.iloc[70] - events.iloc[70])
    return {
        "mean70": shares.mean(),
        "sd70": shares.std(ddof=1),
        "alpha_mom": alpha,
        "beta_mom": beta,
        "post71_book": [book.mean(), book.std()],
        "alpha_ml": fit.alpha,
        "beta_ml": fit.beta,
        "mu_ml": fit.mean,
        "rho_ml": fit.intraclass_correlation,
        "loglik": fit.log_likelihood,
        "units": units,
        "shrunken": [fit.shares[unit - 1].estimate for unit in units],
        "ci_beta": [[fit.shares[unit - 1].lower, fit.shares[unit - 1].upper] for unit in units],
        "reliability": [fit.reliability[unit - 1] for unit in units],
    }


def _logit_normal(frame: pd.DataFrame, given: Arguments) -> Numbers:
    fit = logit_normal_shrinkage(frame[given["y"]], frame[given["n"]], frame["village"])
    return {
        "mu": fit.mean,
        "sigma": fit.standard_deviation,
        "loglik": fit.log_likelihood,
        "mode_u": fit.effect,
        "cond_sd": fit.effect_error,
        "shrunken_mode": fit.share_at_mode,
        "shrunken_mean": fit.share_mean,
        "reliability": fit.reliability,
    }


def _observed_expected(frame: pd.DataFrame, given: Arguments) -> Numbers:
    outcome, unit = given["y"], given["unit"]
    used = frame[frame.groupby(unit)[outcome].transform("size") >= 20]
    treated = (used["trt"] == 1).to_numpy(float)[:, None]
    model = expected_risks(used[outcome], treated)
    found = observed_expected(used[outcome], model.risk, used[unit])
    ones = np.ones(len(used), dtype=int)
    shrunken = logit_normal_shrinkage(
        used[outcome], ones, used[unit], offset=model.linear_predictor
    )
    return {
        "coef": model.coefficients,
        "units": [row.unit for row in found.units],
        "n": [row.cases for row in found.units],
        "O": [row.observed for row in found.units],
        "E": [row.expected for row in found.units],
        "oe": [row.ratio.estimate for row in found.units],
        "oe_ci_exact": [[row.ratio.lower, row.ratio.upper] for row in found.units],
        "z": [row.z for row in found.units],
        "adj_rate": [row.adjusted_share for row in found.units],
        "eb_mu": shrunken.mean,
        "eb_sigma": shrunken.standard_deviation,
        "eb_mode": shrunken.effect,
        "eb_or": shrunken.odds_ratio,
    }


def _period_change(frame: pd.DataFrame, given: Arguments) -> Numbers:
    used = frame.query(given["rows"])
    after = used.eval(given["after"])
    found = period_change(used[given["y"]], after, used[given["cluster"]], variance="CR1")
    fit, before, late = found.fit, found.before, found.after
    naive = before * (1 - before) / found.n_before + late * (1 - late) / found.n_after
    return {
        "p_before": before,
        "p_after": late,
        "n_before": found.n_before,
        "n_after": found.n_after,
        "clusters": found.n_clusters,
        "diff": found.change.estimate,
        "se_cr0": fit.se_cr0[1],
        "se_cr1": fit.se_cr1[1],
        "se_cr2": fit.se_cr2[1],
        "df_cr2": fit.degrees_of_freedom[1],
        "ci_cr1_t": [found.change.lower, found.change.upper],
        "se_naive": naive**0.5,
    }


def _pool_moments(frame: pd.DataFrame, given: Arguments) -> Numbers:
    first, second = given["d"].split("-")
    gap = frame[first] - frame[second]
    spans = given["sites"].removeprefix("rows ").split(", ")
    ends = [tuple(int(part) for part in span.split("-")) for span in spans]
    sites = [site_sums(gap.iloc[first - 1 : last]) for first, last in ends]
    found = pool_moments(sites)
    return {
        "n": [site.n for site in sites],
        "sum": [site.total for site in sites],
        "sumsq": [site.total_of_squares for site in sites],
        "bias": found.bias,
        "sd_total": found.sd_total,
        "sd_pooled_within": found.sd_within,
        "loa": [found.lower_limit, found.upper_limit],
        "site_mean": found.site_means,
        "site_sd": found.site_sds,
    }


def _samplesize_loa(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    sd, half, k = given["sd"], given["half_width"], given["k"]
    return {
        "n_1986": planning.cases_for_limit(sd, half, formula="1986", factor=k),
        "n_1999": planning.cases_for_limit(sd, half, formula="1999", factor=k),
        "n_t_1999": planning.cases_for_limit(sd, half, formula="t", factor=k),
        "n_t_bias": planning.cases_for_bias(sd, half),
        "half_width_100_1986": planning.limit_half_width(sd, 100, formula="1986", factor=k),
        "half_width_200_1986": planning.limit_half_width(sd, 200, formula="1986", factor=k),
        "half_width_100_t1999": planning.limit_half_width(sd, 100, formula="t", factor=k),
    }


def _samplesize_proportion(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    share, half, population = given["p"], given["half_width"], given["N"]

    def printed(size: int) -> float:
        return planning.cases_for_proportion(
            share, half, population=size, formula="krejcie_morgan", quantile_squared=3.841
        )

    if isinstance(population, list):
        return {"s": [printed(size) for size in population]}
    effect = given["deff"]
    plan = planning.cases_for_proportion
    return {
        "n0": plan(share, half),
        "n_fpc": plan(share, half, population=population),
        "n_deff": plan(share, half, design_effect=effect),
        "n_deff_fpc": plan(share, half, population=population, design_effect=effect),
        "krejcie_morgan": printed(population),
    }


def _samplesize_change(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    shares, power = (given["p1"], given["p2"]), given["power"]
    plan = planning.cases_for_change
    return {
        "n_per_period": plan(*shares, power=power),
        "n_per_period_cc": plan(*shares, power=power, continuity=True),
        "n_per_period_deff": plan(*shares, power=power, design_effect=given["deff"]),
    }


def _recall_rate(frame: pd.DataFrame | None, given: Arguments) -> Numbers:
    found = recall_rate(**given)
    return {
        "adjusted": found.adjusted,
        "raw": found.raw,
        "numerator": found.numerator,
        "denominator": found.denominator,
    }


METHODS: dict = {
    "newcombe_difference": _newcombe,
    "newcombe_paired": _newcombe_paired,
    "p_chart": _p_chart,
    "u_chart": _u_chart,
    "xmr_chart": _xmr_chart,
    "laney_p_chart": _laney_p_chart,
    "funnel_limits_exact": _funnel_limits,
    "funnel_overdispersion": _funnel_overdispersion,
    "racusum_scores": _racusum_scores,
    "meta_random": _meta_random,
    "meta_proportion_logit": _meta_proportion,
    "run_chart_limits": _run_chart_limits,
    "beta_binomial_shrinkage": _beta_binomial,
    "logit_normal_shrinkage": _logit_normal,
    "observed_expected": _observed_expected,
    "period_change_clustered": _period_change,
    "pool_moments_exact": _pool_moments,
    "samplesize_loa": _samplesize_loa,
    "samplesize_proportion": _samplesize_proportion,
    "samplesize_change": _samplesize_change,
    "recall_rate": _recall_rate,
}
