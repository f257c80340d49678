"""Write the shown rows anew from rounded counts, so that no share or interval holds a true one."""

import math
from collections.abc import Mapping

import numpy as np
import pandas as pd

from lengthwise.report.disclosure.families import COUNT, DIFFERENCE, SHARE
from lengthwise.report.disclosure.profiles import Profile
from lengthwise.report.disclosure.releases import Earlier
from lengthwise.report.disclosure.texts import rounded_words
from lengthwise.report.run_data import Row
from lengthwise.statistics.proportions import wilson_bounds

NUMBERS = ("estimate", "lower", "upper")
COUNTS = ("numerator", "denominator", "n_used", "n_missing", "n_clusters")
SMALL = "masked: a count under {least}, or all cases but so few"
PROTECTING = "masked: shown, it would give away a masked count"
EARLIER = "masked: with the pack shared before, it would give away too few cases"
CARRIED = "as shared before, for "
DECIMALS = 2
DESIGN_EFFECT_STEP = 0.5
NOTE = "worked out from rounded counts"


def masked(row: Row, reason: str) -> dict[str, object]:
    """Return the row with every number taken out."""
    emptied = dict.fromkeys((*NUMBERS, *COUNTS), np.nan)
    return {**row, **emptied, "target": row["target"], "valid": False, "reason": reason}


def carried(row: Row, earlier: Earlier) -> dict[str, object]:
    """Return the row with the numbers and the period that were shared before."""
    numbers = {
        name: np.nan if value is None else value for name, value in earlier.numbers.items()
    }
    words = earlier.period.replace("..", " to ")
    return {
        **masked(row, f"{CARRIED}{words}: too few cases came since"),
        **numbers, "period": earlier.period, "valid": numbers["estimate"] == numbers["estimate"],
    }  # fmt: skip


def is_carried(shown: Mapping[str, object]) -> bool:
    return str(shown["reason"]).startswith(CARRIED)


def published(row: Row, profile: Profile) -> dict[str, object]:
    """Return a row that may be shown: counts rounded, the rest following from them."""
    rounded = {
        name: np.nan if pd.isna(row[name]) else profile.rounded(row[name]) for name in COUNTS
    }
    # What is missing is the small rest of a whole more often than not.
    rounded["n_missing"] = np.nan
    if not pd.isna(row["n_clusters"]) and profile.is_small(row["n_clusters"]):
        rounded["n_clusters"] = np.nan
    kept = {**row, **rounded, "reason": rounded_words(str(row["reason"]), profile)}
    if not row["valid"]:
        return {**kept, **dict.fromkeys(NUMBERS, np.nan)}
    kind = row["family"].kind
    if kind == SHARE:
        return {**kept, **_share(row, rounded)}
    if kind == COUNT:
        shown = rounded["numerator"]
        shown = profile.rounded(row["estimate"]) if pd.isna(shown) else shown
        return {**kept, "estimate": float(shown), "lower": np.nan, "upper": np.nan}
    if kind == DIFFERENCE:
        return kept
    return {**kept, **{name: round(float(row[name]), DECIMALS) for name in NUMBERS}}


def _share(row: Row, rounded: dict[str, float]) -> dict[str, object]:
    numerator, denominator = rounded["numerator"], rounded["denominator"]
    numerator = min(numerator, denominator)
    level = 0.95 if pd.isna(row["level"]) else float(row["level"])
    effective = denominator / _design_effect(row, level)
    share = numerator / denominator
    lower, upper = wilson_bounds(share * effective, effective, level=level)
    if pd.isna(row["lower"]):
        lower = upper = math.nan
    method = f"{row['method']}; {NOTE}" if row["method"] else NOTE
    return {
        "numerator": numerator, "estimate": share, "lower": round(lower, DECIMALS),
        "upper": round(upper, DECIMALS), "method": method,
    }  # fmt: skip


def _design_effect(row: Row, level: float) -> float:
    """Return how much wider than for independent cases the true interval is, in coarse steps.

    The step is coarse and the effect depends on likeness within patients, not on the count,
    so that the interval that follows from it holds nothing of the true count.
    """
    if pd.isna(row["lower"]) or pd.isna(row["upper"]):
        return 1.0
    count, total = float(row["numerator"]), float(row["denominator"])
    low, high = wilson_bounds(count, total, level=level)
    ratio = ((float(row["upper"]) - float(row["lower"])) / (high - low)) ** 2
    return max(1.0, math.ceil((ratio - 0.05) / DESIGN_EFFECT_STEP) * DESIGN_EFFECT_STEP)


def difference(row: Row, first: Row | None, second: Row | None) -> dict[str, object]:
    """Return the difference of two shown shares, as far from its limits as the true one."""
    if first is None or second is None or not first["valid"] or not second["valid"]:
        return masked(row, PROTECTING)
    if not row["valid"]:
        return {**row, **dict.fromkeys(NUMBERS, np.nan)}
    value = float(first["estimate"]) - float(second["estimate"])
    ends = {}
    for name, sign in (("lower", -1), ("upper", 1)):
        gap = sign * (float(row[name]) - float(row["estimate"]))
        ends[name] = value + sign * math.ceil(100 * gap) / 100
    return {**row, "estimate": value, **ends, "method": f"{row['method']}; {NOTE}"}
