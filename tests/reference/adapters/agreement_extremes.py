"""Extreme cases: equal pairs, two pairs, one cluster, one unit, the rounding of thresholds."""

from typing import Any

import numpy as np
from scipy import stats

from lengthwise.statistics.agreement.concordance import concordance
from lengthwise.statistics.agreement.conditions import condition_effects
from lengthwise.statistics.agreement.deviation_index import deviation_index
from lengthwise.statistics.agreement.equivalence import paired_equivalence
from lengthwise.statistics.agreement.method_ranking import method_errors
from lengthwise.statistics.agreement.proportional_bias import regression_limits
from lengthwise.statistics.agreement.shares import is_within, share_within
from lengthwise.statistics.agreement.spread_ratio import spread_ratio
from lengthwise.statistics.agreement.spread_tests import paired_spread
from lengthwise.statistics.agreement.structural_lines import deming_line, passing_bablok_line
from lengthwise.statistics.clusters import cluster_robust_mean, one_way_anova
from lengthwise.statistics.proportions import clustered_proportion, proportion
from reference.adapters.agreement_limits import pair, single


def all_pairs_equal(data: None, arguments: dict[str, Any]) -> dict[str, Any]:
    x, y, threshold = arguments["x"], arguments["y"], arguments["threshold"]
    share = share_within(x, y, threshold_mm=threshold).share
    regression = regression_limits(x, y)
    return {
        "bland_altman_single": single(x, y, 1.96),
        "share_within": {"p": share.estimate, "ci_wilson": pair(share)},
        "lin_ccc": {"ccc": concordance(x, y).z_interval.estimate},
        "passing_bablok": _line(passing_bablok_line(x, y)),
        "deming": _line(deming_line(x, y)),
        "tdi_normal": deviation_index(x, y, share=0.9, threshold=threshold).index_normal,
        "pitman_morgan": {"valid": paired_spread(x, y).valid},
        "tost_paired": {
            "valid": paired_equivalence(x, y, lower_margin=-0.5, upper_margin=0.5).valid
        },
        "regression_loa": {
            "b0": regression.intercept.estimate,
            "b1": regression.slope.estimate,
            "p_valid": bool(np.isfinite(regression.p_slope)),
        },
        "grubbs_estimators": method_errors(
            np.column_stack([x, y, x]), names=("a", "b", "c")
        ).reason,
    }


def _line(found: Any) -> dict[str, float]:
    return {"slope": found.slope.estimate, "intercept": found.intercept.estimate}


def two_pairs(data: None, arguments: dict[str, Any]) -> dict[str, Any]:
    return single(arguments["d"], [0.0, 0.0], arguments["k"])


def one_cluster(data: None, arguments: dict[str, Any]) -> dict[str, Any]:
    x, n = arguments["x"], arguments["n"]
    rows = np.repeat([1.0, 0.0], [x, n - x])
    labels = np.zeros(n)
    found = clustered_proportion([x], [n])
    three = np.column_stack([rows, 1 - rows, rows * 2])
    return {
        "p": found.naive.estimate,
        "ci_wilson": pair(found.naive),
        "clustered_valid": found.wilson_icc.valid,
        "cluster_robust_se_valid": cluster_robust_mean(rows, labels).valid,
        "icc_valid": one_way_anova(rows, labels).valid,
        "jackknife_valid": method_errors(three, names=("a", "b", "c"), patient=labels).valid,
    }


def level_with_one_unit(data: None, arguments: dict[str, Any]) -> dict[str, Any]:
    a, b = np.asarray(arguments["level_a"]), np.asarray(arguments["level_b"])
    y = np.concatenate([a, b])
    names = np.repeat(["a", "b"], [len(a), len(b)])
    x = np.column_stack([np.ones(len(y)), names == "b"]).astype(float)
    found = condition_effects(
        y, np.zeros(len(y)), names, patient=np.arange(len(y)), reference_level="a"
    )
    pooled = stats.ttest_ind(b, a)
    (x1, n1), (x2, n2) = arguments["events"]
    return {
        "mean_diff": found.levels[1].mean_difference_mm - found.levels[0].mean_difference_mm,
        "t_pooled": pooled.statistic,
        "df": len(y) - 2,
        "p_pooled": pooled.pvalue,
        "sd_level_b_valid": bool(np.isfinite(found.levels[1].sd_mm)),
        "sd_ratio_valid": spread_ratio(y, x, names == "b").profile.valid,
        "wilson_1_1": pair(proportion(1, 1)),
        "wilson_0_1": pair(proportion(0, 1)),
        "fisher_p_1_1_vs_3_20": stats.fisher_exact([[x1, n1 - x1], [x2, n2 - x2]])[1],
    }


def threshold_rounding(data: None, arguments: dict[str, Any]) -> dict[str, Any]:
    pairs = np.asarray(arguments["pairs"])
    within = is_within(pairs[:, 0] - pairs[:, 1], arguments["threshold"])
    return {"within": int(within.sum()), "n": len(within)}


METHODS = {
    "all_pairs_equal": all_pairs_equal,
    "two_pairs": two_pairs,
    "one_cluster": one_cluster,
    "level_with_one_unit": level_with_one_unit,
    "threshold_rounding": threshold_rounding,
}
