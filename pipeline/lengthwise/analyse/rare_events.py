"""Rare events as cases between them, and monthly means in mm as single values."""

from dataclasses import replace

import pandas as pd

from lengthwise.analyse.measures import Measure, by_month, in_order_of_keys
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.process.control_chart import ControlChart
from lengthwise.statistics.process.individuals_chart import xmr_chart
from lengthwise.statistics.process.proportion_charts import SMALL_EXPECTED_COUNT
from lengthwise.statistics.process.rare_event_charts import chance_above, g_chart
from lengthwise.statistics.results import NAN, Estimate, refused

SECTION = "process"
INCIDENT = "incident"
ORDER = (
    "g chart; cases of one month stand in the order of their keys, since the day is not kept"
)
UNKNOWN_MONTH = "cases without a month: the order of the cases is not known"
# A month with fewer values tells of single cases and not of the month.
LEAST_VALUES = 5


def incident_measure(teeth: pd.DataFrame) -> list[Measure]:
    """Return the measure of treatments with an adverse event, where any is on record.

    Without a single event the export is more likely not kept than empty.
    """
    return [Measure(INCIDENT, teeth, None, False)] if teeth["is_met"].any() else []


def analyse_rare_events(rows: ResultRows, measures: list[Measure], period: str) -> None:
    """Write a g chart of each measure with too few unwanted events a month for limits of a share."""
    for measure in measures:
        months = by_month(measure.cases)
        met = (months["n"] - months["met"]) if measure.higher_is_wanted else months["met"]
        cases = float(months["n"].sum())
        if cases and met.sum() / len(months) >= SMALL_EXPECTED_COUNT:
            continue
        known = measure.cases[measure.cases["is_met"].notna()]
        known = in_order_of_keys(known)
        topic = Topic(SECTION, "B3", period)
        if known["month"].isna().any():
            none = refused(UNKNOWN_MONTH, method=ORDER, n_used=len(known))
            rows.add(topic, "g_outside", measure.name, none, unit="count")
            continue
        is_event = (known["is_met"].astype(bool) != measure.higher_is_wanted).to_numpy()
        labels = list(known["month"].to_numpy()[is_event])
        places = is_event.nonzero()[0]
        between = pd.Series(places).diff().sub(1).fillna(places[0] if len(places) else 0)
        chart = g_chart(between.to_numpy(dtype=float))
        words = "longer than usual without an event before that of {months}"
        if chart.valid:
            luck = chance_above(chart.upper[0], between.mean()) * chart.n_used
            note = (
                f"about {luck:.1f} of {chart.n_used} points lie above the limit by luck alone"
            )
            chart = replace(chart, notes=(*chart.notes[1:], note))
        _add(rows, topic, measure.name, "g", chart, labels, words, "count", ORDER)
        _draw(rows, "cases_between", measure.name, chart, labels)


def analyse_individuals(
    rows: ResultRows, fills: pd.DataFrame, pairs: pd.DataFrame, period: str, settings: Settings
) -> None:
    """Write individuals charts of monthly means: ends of fillings, and electronic differences."""
    assessed = fills[fills["level"] != "not_assessable"]
    electronic = pairs[pairs["method"] == "electronic"]
    for name, values in (
        ("fill_offset_mm", assessed[["month", "fill_offset_mm"]]),
        ("electronic_difference_mm", electronic[["month", "difference_mm"]]),
    ):
        values = values.set_axis(["month", "value"], axis="columns").dropna()
        if values.empty:
            continue
        table = values.groupby("month")["value"].agg(["mean", "size"])
        every = pd.period_range(table.index.min(), table.index.max(), freq="M").astype(str)
        table = table.reindex(every)
        mean = table["mean"].where(table["size"] >= LEAST_VALUES)
        chart = xmr_chart(mean.to_numpy(dtype=float))
        topic = Topic(SECTION, "B3", period)
        words = "outside the limits in {months}"
        method = f"individuals chart of monthly means with at least {LEAST_VALUES} values"
        _add(rows, topic, name, "xmr", chart, list(every), words, "mm", method)
        _draw(rows, "individuals", name, chart, list(every))


def _add(
    rows: ResultRows, topic: Topic, name: str, series: str, chart: ControlChart,
    labels: list[str], words: str, unit: str, method: str,
) -> None:  # fmt: skip
    counts = (0.95, chart.n_used, chart.n_missing, method)
    if not chart.valid:
        none = refused(
            chart.reason, method=method, n_used=chart.n_used, n_missing=chart.n_missing
        )
        rows.add(topic, f"{series}_outside", name, none, unit="count")
        return
    said = list(chart.notes)
    if chart.outside:
        months = ", ".join(labels[place] for place in chart.outside)
        said.insert(0, words.format(months=months))
    outside = Estimate(len(chart.outside), NAN, NAN, *counts, True, "; ".join(said))
    rows.add(topic, f"{series}_outside", name, outside, unit="count")
    centre = Estimate(chart.centre, NAN, NAN, *counts)
    rows.add(topic, f"{series}_centre", name, centre, unit=unit)


def _draw(
    rows: ResultRows, figure: str, name: str, chart: ControlChart, labels: list[str]
) -> None:
    if not chart.valid:
        return
    for place, label in enumerate(labels):
        rows.point(
            figure, name, "value", place, chart.values[place], label=str(label),
            lower=chart.lower[place], upper=chart.upper[place],
        )  # fmt: skip
        rows.point(figure, name, "centre", place, chart.centre, label=str(label))
