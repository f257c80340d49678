"""A summary and a pooled result as lines that people read before anything leaves."""

import math
from collections.abc import Callable, Iterator, Sequence

from lengthwise.report.sharing.pooled import Pooled
from lengthwise.report.sharing.summary import Summary
from lengthwise.report.wording import in_hundred, name_of, number
from lengthwise.statistics.random_effects import RandomEffects

MASKED = "[m]"


def summary_lines(summary: Summary) -> list[str]:
    """Return all that the summary holds."""
    return [
        f"Summary of site {summary['site']}, {summary['period']}, data as of "
        f"{summary['data_as_of']}, preset {summary['preset']}:",
        *_agreement(summary), *_shares(summary), *_model(summary),
    ]  # fmt: skip


def _agreement(summary: Summary) -> Iterator[str]:
    for item in summary["agreement"]:
        yield (
            f"  {name_of(item['method'])} minus {name_of(item['reference'])}: n {item['n']}, sum "
            f"{number(item['sum_mm'])} mm, sum of squares {number(item['sum_of_squares_mm2'])}, "
            f"bias {number(item['bias_mm'], 3)} (SE {number(item['bias_standard_error_mm'], 3)})"
        )


def _shares(summary: Summary) -> Iterator[str]:
    words = {"fill": "fillings that end {}", "outcome": "teeth not healed, filled {}"}
    for part, text in words.items():
        for item in summary[part]:
            is_masked = item["cases"] is None
            counts = MASKED if is_masked else f"{item['cases']} of {item['of']}"
            yield f"  {text.format(name_of(item['level']))}: {counts} (rounded)"


def _model(summary: Summary) -> Iterator[str]:
    for model in summary["model"]:
        yield (
            f"  model of {model['outcome']}: {model['events']} events, "
            f"{model['parameters']} parameters"
        )
        for term in model["terms"]:
            yield (
                f"    {name_of(term['term'])} to {name_of(term['against'])}: log odds ratio "
                f"{number(term['log_odds_ratio'])} (SE {number(term['standard_error'])})"
            )


def refusal_lines(reasons: Sequence[str]) -> list[str]:
    """Return why the summary may not leave, and what can be done."""
    listed = [f"  - {reason}" for reason in reasons]
    return [
        "This summary may not leave the practice:", *listed,
        "Leave these parts out (--leave-out), or share when there are more cases.",
    ]  # fmt: skip


def pooled_lines(pooled: Pooled) -> list[str]:
    """Return the pooled results, the wide interval of a new practice beside each mean."""
    lines = [f"Pooled over {len(pooled.sites)} sites: {', '.join(pooled.sites)}"]
    if pooled.moments:
        lines.append("All differences together (exact sums; limits treat each alike):")
    for method, item in pooled.moments.items():
        limits = f"{number(item.lower_limit, signed=True)} to {number(item.upper_limit, signed=True)}"
        text = (
            f"n {item.n_used}, bias {number(item.bias, signed=True)} mm, SD "
            f"{number(item.sd_total)} mm, limits {limits} mm"
        )
        lines.append(f"  {name_of(method)}: {text if item.valid else item.reason}")
    if pooled.effects:
        lines.append(
            "Means over practices (REML, modified Hartung-Knapp), in brackets the 95% interval; "
            "then where a new practice is expected. Shares take cases as independent:"
        )
    lines += [_effect_line(name, item) for name, item in pooled.effects.items()]
    warnings = dict.fromkeys(item.pooled.reason for item in pooled.effects.values())
    return [*lines, *(f"Note: {reason}." for reason in warnings if reason)]


def _effect_line(name: str, item: RandomEffects) -> str:
    if not item.pooled.valid:
        return f"  {name}: not given"
    shown, unit = _scale(name)
    mean, expected = item.pooled, item.prediction
    range_of = f"{shown(mean.lower)} to {shown(mean.upper)}"
    later = (
        f"{shown(expected.lower)} to {shown(expected.upper)}"
        if expected.valid
        else f"not given, {expected.reason}"
    )
    return f"  {name}: {shown(mean.estimate)}{unit} ({range_of}); new practice: {later}"


def _scale(name: str) -> tuple[Callable[[float], str], str]:
    """Return how a number of this name is read, and its unit: mm, in 100, or none."""
    if name.startswith("bias"):
        return (lambda value: number(value, signed=True)), " mm"
    if name.startswith("odds ratio"):
        return (lambda value: number(math.exp(value))), ""
    return (lambda value: in_hundred(1 / (1 + math.exp(-value)))), " in 100"
