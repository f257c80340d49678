"""Cases of coefficients, readers and proportions."""

from typing import Any

import numpy as np
import pandas as pd

from lengthwise.statistics import proportions
from lengthwise.statistics.agreement.concordance import concordance
from lengthwise.statistics.agreement.deviation_index import deviation_index
from lengthwise.statistics.agreement.equivalence import paired_equivalence
from lengthwise.statistics.agreement.intraclass import (
    intraclass_correlations,
    one_way_intraclass,
)
from lengthwise.statistics.agreement.kappa import Kappa, kappa_of_readings, kappa_of_table
from lengthwise.statistics.agreement.rater_agreement import (
    category_weights,
    fleiss_kappa,
    gwet_ac,
    krippendorff_alpha,
    rating_counts,
)
from reference.adapters.agreement_limits import pair
from reference.adapters.columns import column


def icc_all(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    found = intraclass_correlations(data[arguments["raters"]])
    got: dict[str, Any] = {
        "MSR": found.ms_rows,
        "MSC": found.ms_columns,
        "MSW": found.ms_within,
        "MSE": found.ms_error,
        "sem_agreement": found.sem_agreement,
        "sem_consistency": found.sem_consistency,
    }
    for form in ("1", "A", "C"):
        for number in ("1", "k"):
            one = found.form(f"ICC({form},{number})")
            got[f"icc_{form.lower()}_{number}"] = one.estimate
            got[f"ci_{form.lower()}_{number}"] = pair(one)
    return got


def icc_oneway_unbalanced(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    found = one_way_intraclass(column(data, arguments["y"]), data[arguments["cluster"]])
    return {
        "msb": found.ms_between,
        "msw": found.ms_within,
        "n0": found.n0,
        "icc_1_1": found.single.estimate,
        "ci_1_1": pair(found.single),
        "icc_1_k": found.average,
    }


def lin_ccc(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    found = concordance(data[arguments["x"]], data[arguments["y"]])
    return {
        "ccc": found.z_interval.estimate,
        "pearson": found.pearson,
        "C_b": found.accuracy,
        "se_n2": found.standard_error,
        "ci_asym": pair(found.asymptotic),
        "ci_z": pair(found.z_interval),
    }


def tost_paired(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    found = paired_equivalence(
        data[arguments["x"]],
        data[arguments["y"]],
        lower_margin=arguments["low"],
        upper_margin=arguments["upp"],
        alpha=arguments.get("alpha", 0.05),
    )
    return {
        "t_low": found.t_lower,
        "t_upp": found.t_upper,
        "p_low": found.p_lower,
        "p_upp": found.p_upper,
        "ci90": pair(found.bias),
    }


def tdi_cp(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    found = deviation_index(
        column(data, arguments["y"]),
        column(data, arguments["x"]),
        share=arguments["p"],
        threshold=arguments["threshold"],
    )
    return {
        "msd": found.mean_square,
        "rbs": found.relative_bias_squared,
        "tdi_lin": found.index_lin.estimate,
        "tdi_lin_upper95": found.index_lin.upper,
        "tdi_normal": found.index_normal,
        "cp_lin": found.coverage_lin.estimate,
        "cp_lin_lower95": found.coverage_lin.lower,
        "cp_normal": found.coverage_normal,
        "cp_empirical": found.coverage_observed,
    }


def _kappa(data: pd.DataFrame | None, arguments: dict[str, Any]) -> Kappa:
    weights = arguments.get("weights", "none")
    if "disagreement_weights" in arguments:
        distance = np.asarray(arguments["disagreement_weights"], dtype=float)
        weights = 1 - distance / distance.max()
    if data is None:
        return kappa_of_table(arguments["table"], weights=weights)
    first, second = (data[name] for name in arguments["raters"])
    return kappa_of_readings(first, second, categories=arguments["levels"], weights=weights)


def kappa(data: pd.DataFrame | None, arguments: dict[str, Any]) -> dict[str, Any]:
    found = _kappa(data, arguments)
    return {
        "kappa": found.kappa.estimate,
        "ase": found.standard_error,
        "ase0": found.standard_error_null,
        "ci": pair(found.kappa),
        "z": found.z,
    }


def fleiss(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    frequency = data[arguments["frequency"]] if "frequency" in arguments else None
    names = arguments.get("raters") or [
        name for name in data.columns if name not in (arguments.get("subject"),)
    ]
    codes, _ = pd.factorize(data[names].to_numpy().ravel(), sort=True)
    counts, _ = rating_counts(codes.reshape(len(data), -1).astype(float))
    found = fleiss_kappa(counts, frequency=frequency)
    return {
        "kappa": found.kappa.estimate,
        "Pbar": found.raw_agreement,
        "Pe": found.chance_agreement,
        "se0": found.standard_error_null,
        "z": found.z,
        "kappa_j": found.by_category,
    }


def gwet_ac1(data: None, arguments: dict[str, Any]) -> dict[str, Any]:
    table = np.asarray(arguments["table"], dtype=float)
    q = len(table)
    rows = np.eye(q)[:, None, :] + np.eye(q)[None, :, :]
    found = gwet_ac(rows.reshape(q * q, q), frequency=table.ravel(), large_sample=True)
    return {"ac": found.coefficient.estimate, "se": found.standard_error}


def agreement_raw(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    counts, values = rating_counts(data[arguments["raters"]])

    def alpha(**options: Any) -> float:
        return krippendorff_alpha(counts, categories=values, **options).coefficient.estimate

    got: dict[str, Any] = {
        f"alpha_{one}": alpha(metric=one) for one in ("nominal", "ordinal", "interval", "ratio")
    }
    for name in ("identity", "ordinal", "quadratic"):
        weights = category_weights(values, name)
        gwet = gwet_ac(counts, weights=weights)
        got[f"gwet_{name}"] = gwet.coefficient.estimate
        got[f"gwet_{name}_se"] = gwet.standard_error
        got[f"krippendorff_{name}"] = alpha(weights=weights)
    got["fleiss_identity"] = fleiss_kappa(counts).kappa.estimate
    # The source prints these to five decimals and the tolerance is finer than that.
    return {
        name: value if name.startswith("alpha") else round(value, 5)
        for name, value in got.items()
    }


def proportion_ci(data: None, arguments: dict[str, Any]) -> dict[str, Any]:
    found = {
        name: proportions.proportion(
            arguments["x"], arguments["n"], level=arguments["conf"], interval=name
        )
        for name in proportions.INTERVALS
    }
    return {"p": found["wilson"].estimate, **{name: pair(one) for name, one in found.items()}}


def clustered_proportion(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    rows = data[data["group"] == arguments["group"]] if "group" in arguments else data
    found = proportions.clustered_proportion(rows[arguments["y"]], rows[arguments["n"]])
    return {
        "p": found.naive.estimate,
        "var": found.variance,
        "se": found.standard_error,
        "deff": found.design_effect,
        "n_eff": found.n_effective,
        "ci_wald_t": pair(found.wald),
        "ci_wilson_neff": pair(found.wilson_ratio),
        "ci_wilson_icc": pair(found.wilson_icc),
        "icc_anova": found.icc,
        "m0": found.mean_size_m0,
        "xi": found.inflation,
    }


def rao_scott_test(data: pd.DataFrame, arguments: dict[str, Any]) -> dict[str, Any]:
    columns = (data[arguments[name]] for name in ("y", "n", "group"))
    found = proportions.rao_scott_test(*columns)
    return {"chi2": found.statistic, "p": found.p_value}


METHODS = {
    "icc_all": icc_all,
    "icc_average_forms": icc_all,
    "icc_oneway_unbalanced": icc_oneway_unbalanced,
    "lin_ccc": lin_ccc,
    "tost_paired": tost_paired,
    "tdi_cp": tdi_cp,
    "cohen_kappa": kappa,
    "weighted_kappa": kappa,
    "fleiss_kappa": fleiss,
    "gwet_ac1": gwet_ac1,
    "agreement_raw": agreement_raw,
    "proportion_ci": proportion_ci,
    "clustered_proportion": clustered_proportion,
    "clustered_proportion_wilson": clustered_proportion,
    "rao_scott_test": rao_scott_test,
}
