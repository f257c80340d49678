"""Measures over months and between clinicians: run chart, control charts, funnel."""

import math

import numpy as np
import pandas as pd

from lengthwise.analyse.measures import Measure, by_month
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.periods import window
from lengthwise.settings import Settings
from lengthwise.statistics.process.change_point import ChangePoint, change_point
from lengthwise.statistics.process.control_chart import ControlChart
from lengthwise.statistics.process.funnel import (
    Funnel,
    FunnelPoint,
    IntArray,
    funnel,
    funnel_limits,
)
from lengthwise.statistics.process.proportion_charts import laney_p_chart, p_chart
from lengthwise.statistics.process.run_chart import RunChart, run_chart
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import NAN, Estimate, refused

SECTION = "process"
# Many series are looked at, so that a change is named only where chance seldom gives it.
CHANGE_P = 0.01
FUNNEL_QUARTERS = 4
DRAWN_SIZES = 40


def analyse_charts(rows: ResultRows, measures: list[Measure], period: str) -> None:
    """Write run chart, control charts and the most likely change of each measure by month."""
    for measure in measures:
        months = by_month(measure.cases)
        share = (months["met"] / months["n"]).where(months["n"] > 0)
        chart = run_chart(share.to_numpy(dtype=float))
        _add_run_chart(rows, Topic(SECTION, "B2", period), measure.name, chart, months)
        _add_control_charts(rows, period, measure.name, months)
        effect = design_effect(measure.cases[measure.cases["is_met"].notna()])
        _add_change(rows, period, measure.name, months, effect)


def _add_run_chart(
    rows: ResultRows, topic: Topic, name: str, chart: RunChart, months: pd.DataFrame
) -> None:
    part = chart.segments[0]
    method = "run chart; longest run and crossings of the median, both strict"
    longest, fewest, n_used = NAN, NAN, chart.n_used
    if part.limits is not None:
        longest, fewest = float(part.limits.longest_run), float(part.limits.crossings)
    if not part.valid:
        none = refused(part.reason, method=method, n_used=n_used, n_missing=chart.n_missing)
        rows.add(topic, "longest_run", name, none, unit="count")
        return
    run_words = (
        f"{part.longest_run} months in a row on one side of the median, more than the "
        f"{longest:.0f} that chance usually gives: the share has shifted"
    )
    crossing_words = (
        f"the line crosses the median {part.crossings} times, fewer than the {fewest:.0f} that "
        "chance usually gives: the share has shifted"
    )
    for measure, value, lower, upper, words in (
        ("longest_run", part.longest_run, NAN, longest, run_words if part.run_signal else ""),
        ("crossings", part.crossings, fewest, NAN,
         crossing_words if part.crossing_signal else ""),
    ):  # fmt: skip
        rows.add(
            topic, measure, name,
            Estimate(value, lower, upper, 0.95, n_used, chart.n_missing, method, True, words),
            unit="count",
        )  # fmt: skip
    for place, (month, count, value) in enumerate(
        zip(months["month"], months["n"], chart.values, strict=True)
    ):
        rows.point("run_chart", name, "share", place, value, label=month, n=int(count))
        rows.point("run_chart", name, "median", place, part.median, label=month)


def _add_control_charts(rows: ResultRows, period: str, name: str, months: pd.DataFrame) -> None:
    counts, sizes = months["met"].to_numpy(), months["n"].to_numpy()
    labels = list(months["month"])
    for series, chart in (
        ("p", p_chart(counts, sizes)),
        ("p_prime", laney_p_chart(counts, sizes)),
    ):
        _add_control(rows, Topic(SECTION, "B3", period), name, series, chart, labels)
        if not chart.valid:
            continue
        for place, month in enumerate(labels):
            rows.point(
                "control_chart", name, series, place, chart.values[place], label=month,
                lower=chart.lower[place], upper=chart.upper[place], n=int(sizes[place]),
            )  # fmt: skip


def _add_control(
    rows: ResultRows, topic: Topic, name: str, series: str, chart: ControlChart,
    labels: list[str],
) -> None:  # fmt: skip
    if not chart.valid:
        none = refused(
            chart.reason, method=chart.method, n_used=chart.n_used, n_missing=chart.n_missing
        )
        rows.add(topic, f"{series}_outside", name, none, unit="count")
        return
    words = list(chart.notes)
    if chart.outside:
        months = ", ".join(labels[place] for place in chart.outside)
        words.insert(0, f"outside the limits in {months}")
    said = Estimate(
        len(chart.outside), NAN, NAN, 0.95, chart.n_used, chart.n_missing, chart.method, True,
        "; ".join(words),
    )  # fmt: skip
    rows.add(topic, f"{series}_outside", name, said, unit="count")
    centre = Estimate(chart.centre, NAN, NAN, 0.95, chart.n_used, chart.n_missing, chart.method)
    rows.add(topic, f"{series}_centre", name, centre, unit="proportion")
    if math.isfinite(chart.dispersion):
        spread = Estimate(
            chart.dispersion, NAN, NAN, 0.95, chart.n_used, chart.n_missing, chart.method
        )
        rows.add(topic, "sigma_z", name, spread, unit="ratio")


def most_likely_change(
    met: pd.Series, n: pd.Series, direction: str = "either", effect: float = 1.0
) -> ChangePoint:
    """Return the change of a share, computed on the rarer of met and not met.

    Counts are divided by the design effect, so that cases alike within patients do not pass
    for evidence.
    """
    cases = n.to_numpy() / effect
    if met.sum() <= n.sum() / 2:
        return change_point(met.to_numpy() / effect, cases, direction=direction)
    opposite = {"rise": "fall", "fall": "rise", "either": "either"}[direction]
    return change_point((n - met).to_numpy() / effect, cases, direction=opposite)


def _add_change(
    rows: ResultRows, period: str, name: str, months: pd.DataFrame, effect: float
) -> None:
    found = most_likely_change(months["met"], months["n"], effect=effect)
    topic = Topic(SECTION, "change_point", period)
    n_used = int(months["n"].sum())
    if not found.valid or found.position is None:
        none = refused(found.reason, method=found.method, n_used=n_used)
        rows.add(topic, "share_change", name, none, unit="proportion")
        return
    early, late = months.iloc[: found.position], months.iloc[found.position :]
    before, after = (float(part["met"].sum() / part["n"].sum()) for part in (early, late))
    month = str(late["month"].iloc[0])
    words = ""
    if found.p_value <= CHANGE_P:
        words = (
            f"most likely changed with {month}, from {100 * before:.0f} to {100 * after:.0f} "
            f"in 100 (p = {found.p_value:.4f})"
        )
    value = Estimate(
        after - before, NAN, NAN, 0.95, n_used, found.n_missing, found.method, True, words
    )
    rows.add(
        topic, "share_change", name, value, unit="proportion", reference=month,
    )  # fmt: skip
    p_value = Estimate(found.p_value, NAN, NAN, 0.95, n_used, found.n_missing, found.method)
    rows.add(topic, "p_value", name, p_value, unit="proportion", reference=month)


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
        _draw_funnel(rows, measure.name, list(table.index), found)


def design_effect(cases: pd.DataFrame) -> float:
    """Return how much wider patients with several cases make an interval, at least 1."""
    found = clustered_proportion_of_rows(
        cases["is_met"].to_numpy(dtype=float), cases["patient_id"].to_numpy()
    )
    return max(float(found.inflation), 1.0) if math.isfinite(found.inflation) else 1.0


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


def _draw_funnel(rows: ResultRows, name: str, labels: list[str], found: Funnel) -> None:
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
