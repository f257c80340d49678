"""Measures over months and over units: signals in words, run and control charts, funnels."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.figures import control_chart, funnel, place, run_chart
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    counts_cell,
    refusal_cell,
    value_cell,
)
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import (
    MEASURE_NAMES,
    criterion_name,
    number,
    period_words,
    sentence,
    with_interval,
)

NOTE = (
    "A run chart gives a signal where the share stays on one side of its median for more "
    "months, or crosses it fewer times, than chance usually gives. A signal says that "
    "something changed, not why; no signal does not show that all is well.\n"
)
COMPARED = ("fill_beyond", "fill_short")
PEERS = (
    "Expected counts come from a case-mix model without terms for clinicians; their intervals "
    "allow for cases alike within patients. The shrunken ratio draws small numbers towards the "
    "whole; its interval carries that few clinicians tell little of the spread between them, but "
    "takes cases as independent. In simulated practices the first held the truth 95 to 98 times "
    "in 100, the second 92 to 100 times. Reliability is the part of the spread that is "
    "signal. Internal to the practice, in the order of codes and not of results.\n"
)


def process_charts(run_data: RunData) -> str:
    """Return the signals of every measure, charts of those to look at, then the funnels."""
    charted = list(dict.fromkeys(run_data.plotted("run_chart")["panel"]))
    shown = [name for name in charted if name in MEASURE_NAMES or _has_signal(run_data, name)]
    controlled = dict.fromkeys(run_data.plotted("control_chart")["panel"])
    parts = [
        _signals(run_data),
        *(place(run_chart(run_data, name), f"run-{escape.slug(name)}") for name in shown),
        *(
            place(control_chart(run_data, name), f"control-{escape.slug(name)}")
            for name in controlled
            if name in MEASURE_NAMES
        ),
        *(
            place(funnel(run_data, name), f"funnel-{escape.slug(name)}")
            for name in dict.fromkeys(run_data.plotted("funnel")["panel"])
        ),
        _refused_funnels(run_data),
    ]
    return "\n".join(part for part in parts if part) or NOT_ANALYSED


def _has_signal(run_data: RunData, name: str) -> bool:
    rows = run_data.select(analysis="B2", subject=name)
    return bool((rows["valid"] & (rows["reason"] != "")).any())


def _signals(run_data: RunData) -> str:
    rules = run_data.select(analysis="B2")
    if rules.empty:
        return ""
    rows = [_signal_row(run_data, str(name)) for name in dict.fromkeys(rules["subject"])]
    columns = [
        text("Measure"), figure("Months"), figure("Longest run (usual at most)"),
        figure("Crossings (usual at least)"), figure("Months outside limits (p')"),
        text("Most likely change"),
    ]  # fmt: skip
    table = pipe_table(
        columns,
        rows,
        caption="Signals over months",
        label="run-signals",
        ids=rules["result_id"],
    )
    return f"{table}\n{NOTE}"


def _signal_row(run_data: RunData, name: str) -> list[str]:
    run = run_data.one(analysis="B2", subject=name, measure="longest_run")
    crossings = run_data.one(analysis="B2", subject=name, measure="crossings")
    outside = run_data.one(analysis="B3", subject=name, measure="p_prime_outside")
    change = run_data.one(analysis="change_point", subject=name, measure="share_change")
    return [
        criterion_name(run_data, name),
        "" if run is None else number(run["n_used"], 0),
        _against(run, "upper"),
        _against(crossings, "lower"),
        "" if outside is None or not outside["valid"] else number(outside["estimate"], 0),
        "none shown" if change is None or not change["reason"] else str(change["reason"]),
    ]


def _against(row: Row | None, limit: str) -> str:
    if row is None:
        return ""
    if not row["valid"]:
        return refusal_cell(row)
    edge = "" if pd.isna(row[limit]) else f" ({number(row[limit], 0)})"
    return f"{number(row['estimate'], 0)}{edge}"


def _refused_funnels(run_data: RunData) -> str:
    rows = run_data.select(analysis="B4", measure="peer_display")
    sentences = dict.fromkeys(str(reason) for reason in rows["reason"])
    return "\n\n".join(escape.markdown(f"{text[:1].upper()}{text[1:]}.") for text in sentences)


def clinicians(run_data: RunData) -> str:
    """Return every clinician beside what the case-mix lets expect, in the order of codes."""
    rows = run_data.select(analysis="B5", measure="observed_expected")
    rows = rows[rows["subject"].isin(COMPARED)]
    if rows.empty:
        return NOT_ANALYSED
    refusals = dict.fromkeys(
        str(row["reason"]) for _, row in rows.iterrows() if not row["valid"]
    )
    shown = rows[rows["valid"]].sort_values(["subject", "scope"])
    told = [f"Not compared: {reason}." for reason in refusals]
    if shown.empty:
        return "\n\n".join(escape.markdown(text) for text in told) + "\n"
    table = pipe_table(
        [
            text("Measure"), text("Clinician"), figure("Observed of cases"), figure("Expected"),
            figure("Observed / expected (95%)"), figure("Shrunken odds ratio (95%)"),
            figure("Reliability"),
        ],
        [_clinician_row(run_data, row) for _, row in shown.iterrows()],
        caption=f"Observed against expected, {period_words(shown.iloc[0]['period'])}",
        label="clinicians",
        ids=shown["result_id"],
    )  # fmt: skip
    sentences = [*_clinician_signals(run_data, shown), *told]
    return "\n\n".join([table, *(escape.markdown(sentence(text)) for text in sentences), PEERS])


def _clinician_row(run_data: RunData, row: pd.Series) -> list[str]:
    of = {"analysis": "B5", "subject": str(row["subject"]), "scope": str(row["scope"])}
    expected = run_data.one(measure="expected", **of)
    shrunken = run_data.one(measure="shrunken_odds_ratio", **of)
    reliability = run_data.one(measure="reliability", **of)
    return [
        criterion_name(run_data, str(row["subject"])),
        str(row["scope"]).partition(":")[2],
        counts_cell(row),
        value_cell(expected, 0),
        with_interval(row),
        "" if shrunken is None else with_interval(shrunken),
        value_cell(reliability),
    ]


def _clinician_signals(run_data: RunData, shown: pd.DataFrame) -> list[str]:
    told = []
    for _, row in shown[shown["reason"] != ""].iterrows():
        of = {"analysis": "B5", "subject": str(row["subject"]), "scope": str(row["scope"])}
        change = run_data.one(measure="own_change", **of)
        since = f"; {change['reason']}" if change is not None and change["reason"] else ""
        code = str(row["scope"]).partition(":")[2]
        name = criterion_name(run_data, str(row["subject"]))
        told.append(f"{code}, {name}: {row['reason']}{since}")
    return told or ["No clinician lies beyond what chance usually gives; small shifts can hide"]
