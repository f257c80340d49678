"""Measures over months: run chart, control charts and the most likely change."""

import math

import pandas as pd

from lengthwise.analyse.baselines import Segment, baselines_of, segments
from lengthwise.analyse.measures import Measure, by_month, design_effect
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.process.change_point import ChangePoint, change_point
from lengthwise.statistics.process.control_chart import ControlChart
from lengthwise.statistics.process.proportion_charts import laney_p_chart, p_chart
from lengthwise.statistics.process.run_chart import RunChart, run_chart
from lengthwise.statistics.results import NAN, Estimate, refused

SECTION = "process"
# Many series are looked at, so that a change is named only where chance seldom gives it.
CHANGE_P = 0.01


def _times(count: int) -> str:
    return {0: "never", 1: "once", 2: "twice"}.get(count, f"{count} times")


def analyse_charts(
    rows: ResultRows, measures: list[Measure], period: str, settings: Settings
) -> None:
    """Write run chart, control charts and the most likely change of each measure by month."""
    for measure in measures:
        months = by_month(measure.cases)
        changes = baselines_of(settings, measure.name, list(months["month"]))
        share = (months["met"] / months["n"]).where(months["n"] > 0)
        chart = run_chart(share.to_numpy(dtype=float), new_baselines=changes)
        topic = Topic(SECTION, "B2", period)
        parts = segments(changes, list(months["month"]))
        _add_run_chart(rows, topic, measure.name, chart, parts)
        _draw_run_chart(rows, measure.name, chart, months)
        _add_baselines(rows, topic, measure.name, chart, parts)
        _add_control_charts(rows, period, measure.name, months, parts)
        effect = design_effect(measure.cases[measure.cases["is_met"].notna()])
        _add_change(rows, period, measure.name, months, effect)


def _add_run_chart(
    rows: ResultRows, topic: Topic, name: str, chart: RunChart, parts: list[Segment]
) -> None:
    """Write the signals of each baseline; the latest stands for the measure."""
    method = "run chart; longest run and crossings of the median, both strict"
    for part, where in zip(chart.segments, parts, strict=True):
        if part.limits is None:
            none = refused(
                part.reason, method=method, n_used=chart.n_used, n_missing=chart.n_missing
            )
            rows.add(topic, "longest_run", name, none, unit="count", stratum=where.stratum)
            continue
        longest, fewest = float(part.limits.longest_run), float(part.limits.crossings)
        run_words = (
            f"{part.longest_run} months in a row on one side of the median, more than the "
            f"{longest:.0f} that chance usually gives: the share has shifted"
        )
        crossing_words = (
            f"the line crosses the median {_times(part.crossings)}, fewer than the {fewest:.0f} "
            "that chance usually gives: the share has shifted"
        )
        for measure, value, lower, upper, words in (
            ("longest_run", part.longest_run, NAN, longest,
             run_words if part.run_signal else ""),
            ("crossings", part.crossings, fewest, NAN,
             crossing_words if part.crossing_signal else ""),
        ):  # fmt: skip
            said = Estimate(
                value, lower, upper, 0.95, chart.n_used, chart.n_missing, method, True, words
            )
            rows.add(topic, measure, name, said, unit="count", stratum=where.stratum)


def _draw_run_chart(rows: ResultRows, name: str, chart: RunChart, months: pd.DataFrame) -> None:
    """Add the points, and the median of each baseline that has enough of them."""
    if not any(part.valid for part in chart.segments):
        return
    labels = list(months["month"])
    for place, (month, count) in enumerate(zip(labels, months["n"], strict=True)):
        rows.point(
            "run_chart", name, "share", place, chart.values[place], label=month, n=int(count)
        )
    for part in chart.segments:
        for place in range(part.start, part.stop) if part.valid else ():
            rows.point("run_chart", name, "median", place, part.median, label=labels[place])


def _add_baselines(
    rows: ResultRows, topic: Topic, name: str, chart: RunChart, parts: list[Segment]
) -> None:
    """Write when and why a new baseline was set, in the practice's own words."""
    for change, part in zip(chart.new_baselines, parts[1:], strict=True):
        words = (
            f"new baseline from {part.first}, decided on {change.decided_on}: {change.reason}"
        )
        said = Estimate(
            change.position, NAN, NAN, 0.95, chart.n_used, chart.n_missing, "place of the month",
            True, words,
        )  # fmt: skip
        rows.add(topic, "new_baseline", name, said, unit="count", reference=part.first)


def _add_control_charts(
    rows: ResultRows, period: str, name: str, months: pd.DataFrame, parts: list[Segment]
) -> None:
    """Write p and p' of each baseline; the latest stands for the measure."""
    topic = Topic(SECTION, "B3", period)
    for series, kind in (("p", p_chart), ("p_prime", laney_p_chart)):
        charts = []
        for part in parts:
            own = months.iloc[part.start : part.stop]
            chart = kind(own["met"].to_numpy(), own["n"].to_numpy())
            _add_control(rows, topic, name, series, chart, list(own["month"]), part.stratum)
            charts.append((part, chart))
        if any(chart.valid for _, chart in charts):
            for part, chart in charts:
                _draw_control(rows, name, series, chart, months, part)


def _draw_control(
    rows: ResultRows, name: str, series: str, chart: ControlChart, months: pd.DataFrame,
    part: Segment,
) -> None:  # fmt: skip
    own = months.iloc[part.start : part.stop]
    for place, (month, size) in enumerate(zip(own["month"], own["n"], strict=True)):
        x, limits = part.start + place, {}
        if chart.valid:
            limits = {"lower": chart.lower[place], "upper": chart.upper[place]}
            rows.point("control_chart", name, f"{series}_centre", x, chart.centre, label=month)
        rows.point(
            "control_chart", name, series, x, chart.values[place], label=month, n=int(size),
            **limits,
        )  # fmt: skip


def _add_control(
    rows: ResultRows, topic: Topic, name: str, series: str, chart: ControlChart,
    labels: list[str], stratum: tuple[str, str],
) -> None:  # fmt: skip
    if not chart.valid:
        none = refused(
            chart.reason, method=chart.method, n_used=chart.n_used, n_missing=chart.n_missing
        )
        rows.add(topic, f"{series}_outside", name, none, unit="count", stratum=stratum)
        return
    words = list(chart.notes)
    if chart.outside:
        months = ", ".join(labels[place] for place in chart.outside)
        words.insert(0, f"outside the limits in {months}")
    said = Estimate(
        len(chart.outside), NAN, NAN, 0.95, chart.n_used, chart.n_missing, chart.method, True,
        "; ".join(words),
    )  # fmt: skip
    rows.add(topic, f"{series}_outside", name, said, unit="count", stratum=stratum)
    centre = Estimate(chart.centre, NAN, NAN, 0.95, chart.n_used, chart.n_missing, chart.method)
    rows.add(topic, f"{series}_centre", name, centre, unit="proportion", stratum=stratum)
    if math.isfinite(chart.dispersion):
        spread = Estimate(
            chart.dispersion, NAN, NAN, 0.95, chart.n_used, chart.n_missing, chart.method
        )
        rows.add(topic, "sigma_z", name, spread, unit="ratio", stratum=stratum)


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
