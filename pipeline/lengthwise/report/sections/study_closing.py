"""The last slides of the study-club deck: what changed, the limits, questions for the room."""

from typing import Any

from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.actions import CAUTION
from lengthwise.report.sections.common import hundred_cell
from lengthwise.report.sections.study_agreement import largest_shift
from lengthwise.report.sections.study_common import bullets, slide, slide_table
from lengthwise.report.tables import NO_BREAK, Markup, figure, text
from lengthwise.report.wording import (
    criterion_name,
    frequency,
    name_of,
    number,
    sentence,
)

ROWS_AT_MOST = 6
NO_ACTION = "No action is on record for this run yet.\n"


def changed(run_data: RunData) -> str:
    """Return the slide with actions and the shares before and after them."""
    items = run_data.setting("actions", default=[])
    rows = run_data.select(section="actions", analysis="B7", stratum_kind="action")
    cells = []
    for place, item in enumerate(items, start=1):
        own = rows[rows["stratum"] == str(place)]
        names = list(dict.fromkeys(own["subject"])) or [""]
        for name in names:
            found = {row["measure"]: row for _, row in own[own["subject"] == name].iterrows()}
            cells.append((str(item.get("action", "")), *_moved(run_data, name, item, found)))
    columns = (
        text("Action"),
        text("Measure, per 100"),
        figure("Before"),
        figure("After"),
        figure("Change (95%)"),
    )
    shown = _without_repeats(cells[:ROWS_AT_MOST])
    caption = "Shares per 100 before and after each action"
    body = slide_table(columns, shown, caption, "actions") if cells else NO_ACTION
    return slide("What we changed, and what was seen after", body, (CAUTION.strip(),))


def _without_repeats(cells: list[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Return the rows with an action named once; its further measures follow below it."""
    before = ["", *(row[0] for row in cells)]
    return [
        (Markup(NO_BREAK) if row[0] == last else row[0], *row[1:])
        for row, last in zip(cells, before, strict=False)
    ]


def _moved(
    run_data: RunData, name: str, item: dict[str, Any], found: dict[str, Row]
) -> tuple[str, ...]:
    measure = criterion_name(run_data, name) if name else str(item.get("measure", ""))
    change = found.get("share_change")
    return (
        measure,
        hundred_cell(found.get("share_before")),
        hundred_cell(found.get("share_after")),
        "" if change is None else _change(change),
    )


def _change(row: Row) -> str:
    if not row["valid"]:
        return hundred_cell(row)
    value, lower, upper = (
        number(100 * row[name], 0, signed=True) for name in ("estimate", "lower", "upper")
    )
    return f"{value} ({lower} to {upper})"


def study_limits(run_data: RunData) -> str:
    """Return the slide with the limits, and with what was masked and why."""
    told = run_data.setting("disclosure", default={})
    lines = (
        "One practice, past records: an association is not a cause",
        "The confirmed length used the other methods: agreement is not accuracy",
        "A film under-counts fillings that end beyond",
        "Teeth that were not reviewed may differ from those that were",
        "No advice for any one patient; decisions rest with licensed clinicians, local rules "
        "and data-protection law",
        _masked(told),
    )
    notes = (
        "Nothing here is a row of a record. Counts are rounded, small ones are masked, and so "
        "are those from which a small one could be worked out. No clinician, site, single "
        "reading, minimum or maximum is in this pack.",
        "A number that would, beside an earlier pack, tell of a few cases is left as it was "
        "shared then.",
    )
    return slide("Limits, and what was masked", bullets(lines), notes)


def _masked(told: dict[str, Any]) -> str:
    if not told:
        return (
            "Nothing was masked: this is not a shared pack, and it must not leave the practice"
        )
    names = ("masked_small", "masked_to_protect", "masked_earlier")
    small, protecting, earlier = (int(told.get(name, 0)) for name in names)
    return (
        f"Of {told.get('results', 0)} results, {small} are masked for a count under "
        f"{told.get('minimum_count')}, {protecting + earlier} to protect those, "
        f"{int(told.get('carried', 0))} are left as shared before; counts are rounded to "
        f"{told.get('rounded_to')}"
    )


def audience_questions(run_data: RunData) -> str:
    """Return the slide with three questions, from the results where they allow it."""
    lines = (_of_method(run_data), _of_condition(run_data), _of_review(run_data))
    numbered = "\n".join(
        f"{place}. {line}" for place, line in enumerate(map(_escaped, lines), start=1)
    )
    notes = (
        "Leave time for each question. Answers differ with settings, and none is scored.",
        "Write down what your own records would have to hold to answer them.",
    )
    return slide("Three questions for you", f"{numbered}\n", notes)


def _escaped(line: str) -> str:
    from lengthwise.report import escape

    return escape.markdown(line)


def _of_method(run_data: RunData) -> str:
    rows = run_data.select(section="agreement", analysis="A4", measure="rank")
    rows = rows[rows["valid"]]
    if rows.empty:
        return "Which two methods do you read in every canal, and which do you follow?"
    first = name_of(rows.loc[rows["estimate"].idxmin(), "subject"])
    return (
        f"The smallest own scatter here is that of {first}. Which two methods do you read in "
        "every canal, and which do you follow when they differ by 1 mm?"
    )


def _of_condition(run_data: RunData) -> str:
    found = largest_shift(run_data)
    question = "Which conditions of an electronic reading do you write down?"
    return f"{found} {question}".strip()


def _of_review(run_data: RunData) -> str:
    row = run_data.one(section="criteria", subject="reviewed", measure="share")
    question = "How do you bring patients back for review?"
    if row is None or not row["valid"]:
        return question
    return f"{sentence(f'Reviewed of those due: {frequency(row)}')} {question}"
