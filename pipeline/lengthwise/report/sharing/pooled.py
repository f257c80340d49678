"""Several practices' summaries taken together: exact sums, and means over practices."""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lengthwise.errors import ReportError
from lengthwise.report.sharing.summary import FORMAT, LEVELS, Summary
from lengthwise.report.wording import name_of
from lengthwise.statistics.pooling import PooledMoments, SiteSums, pool_moments
from lengthwise.statistics.random_effects import RandomEffects, random_effects


@dataclass(frozen=True, slots=True)
class Pooled:
    """What the summaries say together.

    Attributes
    ----------
    sites : tuple of str
        Site codes, in the order of their codes.
    moments : dict
        By method: bias, SD and limits of all differences, equal to those of pooled rows.
    effects : dict
        By name: a mean over practices with its prediction interval. Biases in mm; shares as
        log odds; terms of the model as log odds ratios.
    """

    sites: tuple[str, ...]
    moments: dict[str, PooledMoments]
    effects: dict[str, RandomEffects]


def read_summary(path: Path) -> Summary:
    """Return a summary, or raise ReportError for a file that is none."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        raise ReportError(
            f"{path.name}: this file is not a summary that can be read."
        ) from None
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise ReportError(f"{path.name}: this is no summary of the form {FORMAT}.")
    return found


def pool(summaries: Sequence[Summary]) -> Pooled:
    """Pool the summaries of different practices.

    Raises
    ------
    ReportError
        Fewer than two summaries, one site twice, or presets that differ.
    """
    if len(summaries) < 2:
        raise ReportError("Pooling needs the summaries of two practices or more.")
    sites = sorted(str(item["site"]) for item in summaries)
    if len(set(sites)) < len(sites):
        raise ReportError("Two summaries have one site code: pool each practice once.")
    if len({item["preset"] for item in summaries}) > 1:
        raise ReportError("The summaries use different filling presets, so levels differ.")
    ordered = sorted(summaries, key=lambda item: str(item["site"]))
    effects = {**_biases(ordered), **_all_shares(ordered), **_terms(ordered)}
    return Pooled(tuple(sites), _moments(ordered), effects)


def _moments(summaries: Sequence[Summary]) -> dict[str, PooledMoments]:
    found: dict[str, list[SiteSums]] = {}
    for item in (item for summary in summaries for item in summary["agreement"]):
        sums = SiteSums(item["n"], item["sum_mm"], item["sum_of_squares_mm2"])
        found.setdefault(item["method"], []).append(sums)
    return {method: pool_moments(sums) for method, sums in found.items() if len(sums) > 1}


def _biases(summaries: Sequence[Summary]) -> dict[str, RandomEffects]:
    found: dict[str, list[tuple[float, float]]] = {}
    for item in (item for summary in summaries for item in summary["agreement"]):
        pair = (item["bias_mm"], item["bias_standard_error_mm"] ** 2)
        found.setdefault(f"bias of {name_of(item['method'])}", []).append(pair)
    return _pooled(found)


def _all_shares(summaries: Sequence[Summary]) -> dict[str, RandomEffects]:
    found: dict[str, list[tuple[float, float]]] = {}
    words = {"fill": "fillings that end {}", "outcome": "teeth not healed, filled {}"}
    for part, text in words.items():
        for item in (item for summary in summaries for item in summary[part]):
            if item["cases"] is not None and item["level"] in LEVELS:
                pair = _log_odds(item["cases"], item["of"])
                found.setdefault(text.format(item["level"]), []).append(pair)
    return _pooled(found)


def _log_odds(cases: int, total: int) -> tuple[float, float]:
    """Return the log odds and its variance; both counts are above nought in a summary."""
    others = total - cases
    if cases <= 0 or others <= 0:
        raise ReportError("A summary holds a count of nought, which none should.")
    return math.log(cases / others), 1 / cases + 1 / others


def _terms(summaries: Sequence[Summary]) -> dict[str, RandomEffects]:
    found: dict[str, list[tuple[float, float]]] = {}
    for model in (model for summary in summaries for model in summary["model"]):
        for term in model["terms"]:
            pair = (term["log_odds_ratio"], term["standard_error"] ** 2)
            found.setdefault(f"odds ratio, {term['term']} to {term['against']}", []).append(
                pair
            )
    return _pooled(found)


def _pooled(found: dict[str, list[tuple[float, float]]]) -> dict[str, RandomEffects]:
    return {
        name: random_effects(*map(list, zip(*pairs, strict=True)))
        for name, pairs in found.items()
        if len(pairs) > 1
    }


def as_json(pooled: Pooled) -> dict[str, Any]:
    """Return the pooled numbers as plain values, with their method."""
    return {
        "sites": list(pooled.sites),
        "all_differences": {
            method: {
                "n": item.n_used, "bias_mm": item.bias, "sd_mm": item.sd_total,
                "lower_limit_mm": item.lower_limit, "upper_limit_mm": item.upper_limit,
                "method": item.method, "valid": item.valid, "reason": item.reason,
            }
            for method, item in pooled.moments.items()
        },
        "over_practices": {
            name: {
                "estimate": item.pooled.estimate, "lower": item.pooled.lower,
                "upper": item.pooled.upper, "prediction_lower": item.prediction.lower,
                "prediction_upper": item.prediction.upper,
                "tau_squared": item.tau_squared.estimate, "sites": item.pooled.n_used,
                "method": item.pooled.method, "valid": item.pooled.valid,
                "reason": item.pooled.reason,
            }
            for name, item in pooled.effects.items()
        },
    }  # fmt: skip
