"""Page one of a clinician's sheet: messages, target, own trend, peers, goal, and doubts."""

import yaml

from lengthwise.report import escape
from lengthwise.report.cautions import SAFETY
from lengthwise.report.figures.clinician_peers import clinician_peers
from lengthwise.report.figures.clinician_trend import clinician_trend
from lengthwise.report.figures.figure import Figure, place
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.safety import LISTS
from lengthwise.report.tables import callout
from lengthwise.report.trace import footer
from lengthwise.report.wording import (
    counted,
    criterion_name,
    in_hundred,
    period_words,
    sentence,
)

SHOWN_WITHOUT_MESSAGE = 3
BLANK_LINES = 3
# Ends the first sentence of a stored message; the second is the action.
REACHED = " is reached."
TITLE = "Your lengths and fillings"


def clinician_opening(run_data: RunData) -> str:
    """Return the title and the box that says whose eyes the sheet is for."""
    metadata = yaml.safe_dump({"title": f"{TITLE}, {_period(run_data)}"}, width=1000)
    number = escape.markdown(str(run_data.setting("sheet", default="not numbered")))
    practice = escape.markdown(str(run_data.setting("practice_name", default="not named")))
    body = (
        f"For one clinician alone; whose it is stands in a key kept apart. Sheet {number}; "
        f"{practice}. Your own cases of four quarters beside the practice's targets; small "
        "numbers move much by chance."
    )
    return f"---\n{metadata}---\n\n" + callout("note", "Private", body)


def _period(run_data: RunData) -> str:
    rows = run_data.select(analysis="B5", measure="share")
    period = run_data.run["period"] if rows.empty else rows.iloc[0]["period"]
    return period_words(str(period))


def clinician_safety(run_data: RunData) -> str:
    """Return, where any own case is listed for safety, how many and what to do."""
    counts = {name: len(run_data.listed(name)) for name in LISTS}
    if not any(counts.values()):
        return ""
    told = "; ".join(
        f"{LISTS[name].lower()}: {count}" for name, count in counts.items() if count
    )
    body = (
        f"**{SAFETY}** Yours in {run_data.run['period']}: {told}. The keys stand in the "
        "appendix."
    )
    return callout("important", "Safety first", body)


def message_rows(run_data: RunData) -> list[Row]:
    """Return the stored messages in their order, at most five."""
    rows = run_data.select(analysis="B5")
    rows = rows[rows["measure"].str.startswith("message_")].sort_values("measure")
    return [row for _, row in rows.iterrows()]


def clinician_messages(run_data: RunData) -> str:
    """Return each message: the target, the own share, and one action."""
    rows = message_rows(run_data)
    if not rows:
        return (
            "No criterion with enough of your cases lies on the other side of its target. "
            "Keep what works, and say what helps you.\n"
        )
    return "\n".join(
        f"{number}. {_message(run_data, row)}" for number, row in enumerate(rows, start=1)
    )


def _message(run_data: RunData, row: Row) -> str:
    code = str(row["subject"])
    statement = criterion_name(run_data, code).rstrip(".")
    said = str(row["reason"]).removeprefix(f"{statement}: ").strip()
    middle, mark, action = said.rpartition(REACHED)
    middle = f"{middle}{mark}"
    share = run_data.one(analysis="B5", measure="share", subject=code)
    if share is not None and share["valid"]:
        ends = (in_hundred(share[end]) for end in ("lower", "upper"))
        plain = f"({100 * row['numerator'] / row['denominator']:.0f} in 100)"
        interval = f"{plain[:-1]}; {' to '.join(ends)})"
        middle = middle.replace(plain, interval)
    aim = f"{in_hundred(row['target'])} in 100"
    # The target stands first and need not be said twice.
    middle = middle.replace(f"the target of {aim}", "the target")
    target = f"Target {aim}. "
    told = f"**{escape.markdown(statement)}.** {escape.markdown(target + sentence(middle))}"
    step = sentence(action)
    return f"{told} **Next step:** {escape.markdown(step)}" if mark and step else told


def shown_criteria(run_data: RunData) -> list[str]:
    """Return the criteria of the messages, or the first ones where there is no message."""
    rows = message_rows(run_data)
    if rows:
        return [str(row["subject"]) for row in rows]
    held = set(run_data.select(analysis="B5", measure="share")["subject"])
    criteria = [str(item["id"]) for item in run_data.setting("criteria", default=[])]
    return [name for name in criteria if name in held][:SHOWN_WITHOUT_MESSAGE]


def clinician_figures(run_data: RunData) -> str:
    """Return the own trend with targets, then the peers where there are enough of them."""
    criteria = shown_criteria(run_data)
    trend = _image(clinician_trend(run_data, criteria), "own-trend")
    if not trend:
        trend = "No quarter holds enough of your cases for a trend.\n"
    peers = _image(clinician_peers(run_data, criteria), "peers")
    return "\n".join([trend, peers or _no_peers(run_data)])


def figure_words(run_data: RunData) -> str:
    """Return what the figures of page one show, in words, and where their numbers come from."""
    criteria = shown_criteria(run_data)
    drawn = (clinician_trend(run_data, criteria), clinician_peers(run_data, criteria))
    return "\n".join(footer(item.result_ids, item.alt_text) for item in drawn if item)


def _image(figure: Figure | None, label: str) -> str:
    """Return the figure without the small print under it, which page one has no room for."""
    return place(figure, label).partition("::: {.result-ids}")[0]


def _no_peers(run_data: RunData) -> str:
    least = run_data.setting("small_numbers", "minimum_clinicians", default=5)
    cases = run_data.setting("small_numbers", "minimum_denominator", default=10)
    return (
        f"Colleagues are not shown: that needs at least {least} clinicians with at least "
        f"{counted(cases, 'case')} each, yourself included.\n"
    )


def goal_box(run_data: RunData) -> str:
    """Return the box for the clinician's own words; nothing in it is filled by us."""
    lines = "\n\n".join([r"\ "] * BLANK_LINES)
    body = f"What I want to reach, by when, and what I will do for it:\n\n{lines}"
    return callout("note", "My goal until the next sheet", body)


def challenge(run_data: RunData) -> str:
    """Return how to have a number looked at again."""
    number = escape.markdown(str(run_data.setting("sheet", default="not numbered")))
    return (
        f"**Does a number look wrong?** Give this sheet's number ({number}) and the criterion "
        "or the treatment key to whoever runs the audit: they can list the source rows of any "
        "number. A corrected row replaces the old one with a trace, and the next sheet shows "
        "it. Until then no conclusion should rest on a number that you doubt.\n"
    )
