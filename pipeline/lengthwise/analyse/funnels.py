"""Clinicians against a criterion's target: funnel, exact tail, variation between units."""

import numpy as np
import pandas as pd

from lengthwise.analyse.measures import Measure, design_effect
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.periods import window
from lengthwise.settings import Settings
from lengthwise.statistics.process.funnel import (
    Funnel,
    FunnelPoint,
    IntArray,
    funnel,
    funnel_limits,
)
from lengthwise.statistics.process.overdispersion import (
    Overdispersion,
    funnel_overdispersion,
    widened_limits,
)
from lengthwise.statistics.results import NAN, Estimate, refused

SECTION = "process"
FUNNEL_QUARTERS = 4
DRAWN_SIZES = 40
COVERAGE = {"limit_95": 0.95, "limit_99_8": 0.998}


def analyse_funnels(
    rows: ResultRows, measures: list[Measure], quarters: list[str], settings: Settings
) -> None:
    """Write clinicians against a criterion's target, over the last four quarters.

    The flag takes the exact tail of counts divided by the design effect, since the cases of
    one patient are alike; the drawn limits are those of the plain counts.
    """
    covered = quarters[-FUNNEL_QUARTERS:]
    topic = Topic(SECTION, "B4", window(covered[0], covered[-1]))
    for measure in measures:
        cases = measure.cases[
            measure.cases["quarter"].isin(covered) & measure.cases["is_met"].notna()
        ]
        if cases.empty or measure.target is None or not 0 < measure.target < 1:
            continue
        effect = design_effect(cases)
        table = cases["is_met"].astype(int).groupby(cases["clinician_id"]).agg(["sum", "size"])
        found = funnel(
            table["sum"].to_numpy(), table["size"].to_numpy(), target=measure.target,
            minimum_cases=settings.small_numbers.minimum_denominator,
            minimum_units=settings.small_numbers.minimum_clinicians,
        )  # fmt: skip
        if not found.valid:
            none = refused(found.reason, method=found.method, n_used=int(table["size"].sum()))
            rows.add(topic, "peer_display", measure.name, none, unit="count")
            continue
        judged = funnel(
            *effective_counts(table["sum"], table["size"], effect),
            target=measure.target, minimum_cases=1, minimum_units=1,
        )  # fmt: skip
        for clinician, point, flag in zip(
            table.index, found.points, judged.points, strict=True
        ):
            _add_unit(rows, topic, measure, str(clinician), point, flag, effect)
        spread = funnel_overdispersion(table["sum"], table["size"], target=measure.target)
        _add_spread(rows, topic, measure, spread)
        _draw_funnel(rows, measure.name, list(table.index), found, spread)


def effective_counts(
    met: pd.Series, size: pd.Series, effect: float
) -> tuple[IntArray, IntArray]:
    """Return met and cases divided by the design effect, as whole numbers."""
    cases = np.maximum(np.floor(size.to_numpy() / effect), 1).astype(np.int64)
    return np.rint(met.to_numpy() / size.to_numpy() * cases).astype(np.int64), cases


def _add_unit(
    rows: ResultRows, topic: Topic, measure: Measure, clinician: str, point: FunnelPoint,
    judged: FunnelPoint, effect: float,
) -> None:  # fmt: skip
    method = f"exact binomial tail against the target, design effect {effect:.2f}"
    unit, stratum = "proportion", ("clinician", clinician)
    if not point.valid:
        said = refused(point.reason, method=method, n_used=point.cases)
    else:
        # Of many units some pass the 95 % limits by chance: only 99.8 % is a signal.
        tail = min(judged.tail_above, judged.tail_below)
        words = f"{judged.flag} limit (tail probability {tail:.4f})"
        words = words if "99.8" in judged.flag else ""
        said = Estimate(point.share, NAN, NAN, 0.998, point.cases, 0, method, True, words)
        chance = Estimate(tail, NAN, NAN, 0.998, judged.cases, 0, method)
        rows.add(topic, "tail_probability", measure.name, chance, unit=unit, stratum=stratum)
    rows.add(
        topic, "share", measure.name, said, unit=unit, stratum=stratum,
        numerator=point.events, denominator=point.cases, target=measure.target,
    )  # fmt: skip


def _add_spread(
    rows: ResultRows, topic: Topic, measure: Measure, spread: Overdispersion
) -> None:
    """Write how much units vary beyond chance; refused with fewer than ten of them."""
    for name, value, unit in (
        ("dispersion", spread.phi_winsorised, "ratio"),
        ("between_units_variance", spread.tau_squared, "squared radians"),
    ):
        said = Estimate(value, NAN, NAN, 0.95, spread.n_used, spread.n_missing, spread.method)
        if not spread.valid:
            said = refused(spread.reason, method=spread.method, n_used=spread.n_used)
        rows.add(topic, name, measure.name, said, unit=unit, target=measure.target)


def _draw_funnel(
    rows: ResultRows, name: str, labels: list[str], found: Funnel, spread: Overdispersion
) -> None:
    for label, point in zip(labels, found.points, strict=True):
        if point.valid:
            rows.point(
                "funnel", name, "unit", point.cases, point.share, label=label, n=point.cases
            )
    largest = max(point.cases for point in found.points)
    step = max(1, (largest + 10) // DRAWN_SIZES)
    drawn = funnel_limits(list(range(10, largest + 2 * step, step)), found.target)
    for series, lower, upper in (
        ("limit_95", drawn.lower_95, drawn.upper_95),
        ("limit_99_8", drawn.lower_998, drawn.upper_998),
    ):
        for size, low, high in zip(drawn.cases, lower, upper, strict=True):
            rows.point("funnel", name, series, size, found.target, lower=low, upper=high)
    if not spread.valid:
        return
    for series, coverage in COVERAGE.items():
        low, high = widened_limits(drawn.cases, spread, coverage=coverage)
        for size, *ends in zip(drawn.cases, low, high, strict=True):
            rows.point(
                "funnel", name, f"{series}_widened", size, found.target, lower=ends[0],
                upper=ends[1],
            )  # fmt: skip
