"""The first slides of the study-club deck: what was asked, where, and how."""

import pandas as pd
import yaml

from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import value_cell
from lengthwise.report.sections.study_common import (
    bullets,
    carried_note,
    of_whole_span,
    slide,
    slide_table,
    span,
)
from lengthwise.report.tables import figure, text
from lengthwise.report.wording import period_words

TITLE = "Root-canal lengths, fillings and healing"
QUESTIONS = (
    "Which length method can be trusted, by how much is it off, and when does it go wrong?",
    "Where do fillings end, how often short or beyond, and in which teeth?",
    "Does it matter for healing here, once case-mix is allowed for?",
)
FLOW = (
    ("treatments", "Treatments"),
    ("canals", "Canals"),
    ("readings", "Length readings"),
    ("canals_with_pairs", "Canals read by two methods or more"),
    ("fills_assessable", "Fillings whose end could be read"),
    ("teeth_due", "Teeth due for review"),
    ("teeth_reviewed", "Teeth reviewed"),
)
PRESETS = {
    "0-2": "0 to 2 mm short of the radiographic apex",
    "0.5-2": "0.5 to 2 mm short of the radiographic apex",
    "0-3": "0 to 3 mm short of the radiographic apex",
}


def study_title(run_data: RunData) -> str:
    """Return the title block."""
    words = {
        "title": f"{TITLE}, {run_data.run['period']}",
        "subtitle": f"{period_words(span(run_data))}; de-identified, aggregated, for discussion",
        "date": str(run_data.run["created_at"])[:10],
    }
    return f"---\n{yaml.safe_dump(words, allow_unicode=True, width=1000)}---\n"


def question(run_data: RunData) -> str:
    """Return the slide with the three questions of the work."""
    notes = (
        "Three questions in a row: the length, the filling, the tooth. Each has its own slides "
        "and its own unit: canals for lengths and fillings, teeth for healing.",
        "This is an audit of past records. It gives no advice for any one patient.",
    )
    return slide("What we asked", bullets(QUESTIONS), notes)


def setting(run_data: RunData) -> str:
    """Return the slide with the flow of cases."""
    rows, shown = [], []
    period = span(run_data)
    for subject, words in FLOW:
        found = run_data.select(section="flow", measure="count", subject=subject)
        own = of_whole_span(found)
        row = (own if len(own) else found).head(1)
        shown.append(row)
        if len(row):
            rows.append((words, value_cell(row.iloc[0], 0)))
    columns = (text("Step"), figure("Number"))
    table = slide_table(columns, rows, "Flow of cases", "flow") if rows else ""
    told = run_data.setting("disclosure", default={})
    notes = (
        "One practice; who it is and who works there is not part of this pack.",
        f"Counts are rounded to {told.get('rounded_to', 1)}, so parts need not add up to their "
        "whole.",
        "Teeth that were not reviewed may differ from those that were.",
        carried_note(pd.concat(shown)),
    )
    title = f"Setting: one practice, {period_words(period)}"
    return slide(title, table or "Not analysed in this run.\n", notes)


def method(run_data: RunData) -> str:
    """Return the slide on how lengths, levels and outcomes are measured."""
    preset = str(run_data.setting("preset", default="0-2"))
    months = run_data.setting("follow_up", "first_countable_months", default=12)
    lines = (
        "Difference: method minus reference, in mm; above 0 the method reads longer",
        "The confirmed length was chosen with the other methods in view: agreement with it is "
        "not accuracy",
        f"Filling within: it ends {PRESETS.get(preset, preset)}, read on film",
        f"Outcome by tooth at {months} months or later; not healed counts strictly",
        "Intervals are 95% and allow for several canals of one patient",
    )
    notes = (
        "Limits of agreement say between which values 95 in 100 differences of single readings "
        "lie. A bias is the mean difference.",
        "A film under-counts fillings that end beyond, so read each share beyond as a lower "
        "figure.",
    )
    return slide("How it was measured", bullets(lines), notes)
