"""The appendix of a clinician's sheet: every criterion, conditions, canals, cautions."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.cautions import all_cautions
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    counts_cell,
    hundred_cell,
    hundred_interval_cell,
    refusal_cell,
    value_cell,
    warnings_note,
)
from lengthwise.report.sections.safety import safety_lists
from lengthwise.report.tables import bullet_list, figure, pipe_table, text
from lengthwise.report.wording import (
    counted,
    criterion_name,
    in_hundred,
    name_of,
    number,
    period_words,
    sentence,
    with_interval,
)

ROLLING_QUARTERS = 4
CONDITION_NAMES = {
    "read_wet": "Read in a wet canal",
    "metal_contact": "Metal contact recorded",
    "small_file": "File three sizes or more under the gauged apex",
    "unstable": "Unstable reading recorded",
    "circuit_not_checked": "Circuit not checked",
    "not_reconfirmed": "Not reconfirmed after preparation",
}
EXPECTED_NOTE = (
    "Expected comes from a case-mix model over everyone: what cases like yours had on average "
    "here. The shrunken odds ratio draws small numbers towards the whole; above 1 means more "
    "of the events named than cases like yours had. Reliability near 0 says that the spread "
    "between clinicians is mostly chance, so that nothing can be read from the row.\n"
)
CONDITION_NOTE = (
    "Of your canals with an electronic reading and a record of the condition. These are "
    "records, not judgements: a condition that nobody wrote down is not counted.\n"
)


def own_results(run_data: RunData) -> str:
    """Return every measure with target, own share, interval, and the last four quarters."""
    rows = run_data.select(analysis="B5", measure="share")
    if rows.empty:
        return NOT_ANALYSED
    quarters = _quarters(run_data)
    cells = [_result_row(run_data, row, quarters) for _, row in rows.iterrows()]
    columns = [
        text("Criterion or measure"), figure("Target (in 100)"), figure("Yours"),
        figure("In 100"), figure("95% interval"), *(figure(quarter) for quarter in quarters),
    ]  # fmt: skip
    caption = (
        f"Your own results, {period_words(str(rows.iloc[0]['period']))}; quarters in 100, "
        "or cases where too few"
    )
    return pipe_table(columns, cells, caption=caption, label="own-results")


def _quarters(run_data: RunData) -> list[str]:
    rows = run_data.select(analysis="B5", measure="share_in_quarter")
    return sorted({str(value) for value in rows["period"]})[-ROLLING_QUARTERS:]


def _result_row(run_data: RunData, row: Row, quarters: list[str]) -> list[str]:
    code = str(row["subject"])
    return [
        _name(run_data, code),
        "" if pd.isna(row["target"]) else in_hundred(row["target"]),
        counts_cell(row),
        hundred_cell(row),
        hundred_interval_cell(row),
        *(_in_quarter(run_data, code, quarter) for quarter in quarters),
    ]


def _name(run_data: RunData, code: str) -> str:
    return sentence(criterion_name(run_data, code)).rstrip(".")


def _in_quarter(run_data: RunData, code: str, quarter: str) -> str:
    row = run_data.one(analysis="B5", measure="share_in_quarter", subject=code, period=quarter)
    if row is None:
        return ""
    return in_hundred(row["estimate"]) if row["valid"] else counts_cell(row)


def own_expected(run_data: RunData) -> str:
    """Return the events observed beside those that case-mix lets expect."""
    rows = run_data.select(analysis="B5", measure="observed_expected")
    if rows.empty:
        return NOT_ANALYSED
    shown = rows[rows["valid"]]
    refusals = dict.fromkeys(str(reason) for reason in rows.loc[~rows["valid"], "reason"])
    told = [escape.markdown(f"Not compared: {reason}.") for reason in refusals]
    if shown.empty:
        return "\n\n".join(told) + "\n"
    columns = [
        text("Event"), figure("Observed of cases"), figure("Expected"),
        figure("Observed / expected (95%)"), figure("Shrunken odds ratio (95%)"),
        figure("Reliability"),
    ]  # fmt: skip
    cells = [_expected_row(run_data, row) for _, row in shown.iterrows()]
    caption = (
        f"Observed against expected, {period_words(str(shown.iloc[0]['period']))}; the event "
        "is the side that nobody wants"
    )
    table = pipe_table(columns, cells, caption=caption, label="own-expected")
    changes = [escape.markdown(text) for text in _changes(run_data)]
    return "\n\n".join(
        part for part in [table, warnings_note(shown), *changes, *told, EXPECTED_NOTE] if part
    )


def _changes(run_data: RunData) -> list[str]:
    """Return since when own cases most likely changed, where that is more than chance."""
    rows = run_data.select(analysis="B5", measure="own_change")
    return [
        f"{_event(run_data, str(row['subject']))}: {sentence(str(row['reason']))}"
        for _, row in rows.iterrows()
        if row["valid"] and row["reason"]
    ]


def own_score(run_data: RunData) -> str:
    """Return the private score over time, where the practice has asked for one."""
    rows = run_data.select(analysis="B6")
    signals = rows[rows["measure"] == "cusum_signal"]
    if rows.empty:
        return ""
    told = [
        f"{_event(run_data, str(row['subject']))}: "
        f"{row['reason'] or 'the score has not passed its threshold'}"
        for _, row in signals.iterrows()
    ]
    limits = rows[rows["measure"] == "cusum_threshold"]
    told += [
        f"{_event(run_data, str(row['subject']))}, how the threshold works: {row['reason']}"
        for _, row in limits.iterrows()
    ]
    points = bullet_list([escape.markdown(sentence(text)) for text in told])
    return f"### Your score over time, kept for you alone\n\n{points}"


def _expected_row(run_data: RunData, row: Row) -> list[str]:
    code = str(row["subject"])
    expected, shrunken, reliability = (
        run_data.one(analysis="B5", subject=code, measure=measure)
        for measure in ("expected", "shrunken_odds_ratio", "reliability")
    )
    return [
        _event(run_data, code),
        counts_cell(row),
        value_cell(expected, 1),
        with_interval(row),
        "" if shrunken is None else _or_reason(shrunken),
        value_cell(reliability),
    ]


def _event(run_data: RunData, code: str) -> str:
    """Return the side of a measure that nobody wants, in words."""
    criteria = {str(item.get("id")) for item in run_data.setting("criteria", default=[])}
    name = _name(run_data, code)
    return f"Not met: {name}" if code in criteria else name


def _or_reason(row: Row) -> str:
    return with_interval(row) if row["valid"] else refusal_cell(row)


def own_conditions(run_data: RunData) -> str:
    """Return how often each condition was recorded, in all own canals and in discordant ones."""
    rows = run_data.select(analysis="B5", measure="condition_share")
    if rows.empty:
        return NOT_ANALYSED
    cells = [
        [
            CONDITION_NAMES.get(str(row["subject"]), name_of(str(row["subject"]))),
            counts_cell(row),
            hundred_cell(row),
            hundred_interval_cell(row),
            *_among(run_data, str(row["subject"])),
        ]
        for _, row in rows.iterrows()
    ]
    columns = [
        text("Condition"), figure("Your canals"), figure("In 100"), figure("95% interval"),
        *(figure(f"Of those where {words} differ") for words in _compared(run_data).values()),
    ]  # fmt: skip
    caption = (
        f"Conditions of your electronic readings, {period_words(str(rows.iloc[0]['period']))}"
    )
    table = pipe_table(columns, cells, caption=caption, label="own-conditions")
    return f"{table}\n{CONDITION_NOTE}"


def _compared(run_data: RunData) -> dict[str, str]:
    """Return the pairs of methods whose canals were compared, in words."""
    rows = run_data.select(analysis="B5", measure="discordant_share")
    return {
        f"{row['subject']}-{row['reference']}": (
            f"{name_of(str(row['subject']))} and {name_of(str(row['reference']))}"
        )
        for _, row in rows.iterrows()
    }


def _among(run_data: RunData, condition: str) -> list[str]:
    return [
        counts_cell(
            run_data.one(
                analysis="B5", measure="condition_among_discordant", subject=condition,
                reference=pair,
            )
        )
        for pair in _compared(run_data)
    ]  # fmt: skip


def own_canals(run_data: RunData) -> str:
    """Return how often two methods disagree in own canals, and this quarter's by key."""
    review = run_data.setting("thresholds", "review_mm", default="the review threshold")
    rows = run_data.select(analysis="B5", measure="discordant_share")
    told = [
        f"Electronic and {name_of(str(row['reference']))} differ by more than {review} mm in "
        f"{counts_cell(row)} of your canals that both read, "
        f"{period_words(str(row['period']))}."
        for _, row in rows.iterrows()
    ]
    listed = run_data.listed("discordant_canals")
    around = bullet_list([escape.markdown(item) for item in told]) if told else ""
    if listed.empty:
        return f"{around}\nNone of your canals is listed in {run_data.run['period']}.\n"
    cells = [
        [row["treatment_id"], row["tooth"], row["canal"],
         number(row["value_mm"], signed=True), row["detail"]]
        for _, row in listed.iterrows()
    ]  # fmt: skip
    columns = [
        text("Treatment"), text("Tooth"), text("Canal"), figure("Difference (mm)"),
        text("Recorded conditions"),
    ]  # fmt: skip
    caption = (
        f"{counted(len(listed), 'canal')} of yours to look at again, {run_data.run['period']}"
    )
    table = pipe_table(columns, cells, caption=caption, label="own-canals")
    return f"{around}\n{table}"


def own_safety(run_data: RunData) -> str:
    """Return the own cases of the safety lists."""
    return safety_lists(run_data)


def own_limits(run_data: RunData) -> str:
    """Return the cautions and what made the sheet."""
    run = run_data.run
    made = escape.markdown(
        f"Run {run['run_id']}, lengthwise {run['version']}, data as of "
        f"{str(run['created_at'])[:10]}."
    )
    return f"{bullet_list(all_cautions())}\n{made}\n"
