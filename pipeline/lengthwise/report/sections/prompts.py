"""Questions for the meeting, made by rule from the results; no direction is assumed."""

from collections.abc import Iterator

from lengthwise.report import escape
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.comparisons import measure_name
from lengthwise.report.sections.next_steps import largest_gaps
from lengthwise.report.tables import bullet_list
from lengthwise.report.wording import (
    counted,
    criterion_name,
    frequency,
    in_hundred,
    is_certain,
    name_of,
    number,
)

EACH_AT_MOST = 2
OPENING = (
    "Questions to talk over. Each follows from a result of this run by a fixed rule; none of "
    "them assumes the answer.\n"
)
NOTHING = "No result of this run calls for a question by these rules.\n"


def prompts(run_data: RunData) -> str:
    """Return the questions as a list."""
    rules = (_gaps, _changes, _signals, _method, _conditions, _levels, _reviews, _actions)
    asked = [question for rule in rules for question in rule(run_data)]
    if not asked:
        return NOTHING
    return f"{OPENING}\n{bullet_list([escape.markdown(question) for question in asked])}"


def _gaps(run_data: RunData) -> Iterator[str]:
    for row in largest_gaps(run_data)[:EACH_AT_MOST]:
        name = _criterion(run_data, row)
        yield (
            f"“{name}”: {frequency(row)}. What stands in the way where it is not met, and is it "
            "the work itself or the record of it?"
        )


def _changes(run_data: RunData) -> Iterator[str]:
    rows = run_data.select(
        section="comparisons", stratum_kind="comparison", measure="share_change"
    )
    certain = rows[[is_certain(row, 0.0) for _, row in rows.iterrows()]] if len(rows) else rows
    largest = certain.sort_values("estimate", key=abs, ascending=False, kind="stable")
    for _, row in largest.head(EACH_AT_MOST).iterrows():
        points = number(100 * row["estimate"], 0, signed=True)
        yield (
            f"“{measure_name(run_data, str(row['subject'])).rstrip('.')}” moved by {points} "
            f"points since {row['reference']}. What else changed in that time, and would it "
            "show the same if the cases were alike?"
        )


def _signals(run_data: RunData) -> Iterator[str]:
    rows = run_data.select(analysis="B2")
    found = rows[rows["valid"] & (rows["reason"] != "")]
    for name in list(dict.fromkeys(found["subject"]))[:EACH_AT_MOST]:
        yield (
            f"The run chart of “{criterion_name(run_data, str(name)).rstrip('.')}” gives a "
            "signal. What happened around that time, and is it to be kept or undone?"
        )


def _method(run_data: RunData) -> Iterator[str]:
    rows = run_data.select(section="agreement", analysis="A4", measure="rank")
    order = rows[rows["valid"]].sort_values("estimate", kind="stable")
    if len(order) < 2:
        return
    first = name_of(str(order.iloc[0]["subject"]))
    yield (
        f"By itself {first} scatters least of the methods read on the same canals. When in the "
        "treatment is it read, and what would be lost or gained if it decided more often?"
    )


def _conditions(run_data: RunData) -> Iterator[str]:
    rows = run_data.estimates
    rows = rows[
        (rows["analysis"] == "A7")
        & (rows["measure"] == "bias_shift_adjusted")
        & rows["stratum_kind"].isin(["canal_state", "metal_contact", "file_size", "stage"])
        & rows["valid"]
    ]
    certain = [row for _, row in rows.iterrows() if is_certain(row, 0.0)]
    for row in sorted(certain, key=lambda row: -abs(row["estimate"]))[:1]:
        size = f"{number(row['estimate'], signed=True)} mm"
        yield (
            f"{name_of(str(row['subject'])).capitalize()} readings with “"
            f"{name_of(str(row['stratum']))}” differ by {size} from those without. Can the "
            "condition be avoided, or at least be written down each time?"
        )


def _levels(run_data: RunData) -> Iterator[str]:
    rows = run_data.select(section="outcome", analysis="C4", measure="risk_difference")
    for _, row in rows[rows["valid"]].iterrows():
        level, reference = name_of(str(row["subject"])), name_of(str(row["reference"]))
        ends = " to ".join(number(100 * row[end], 0, signed=True) for end in ("lower", "upper"))
        yield (
            f"For the same case-mix, teeth filled {level} and {reference} differ in not healed by "
            f"{number(100 * row['estimate'], 0, signed=True)} in 100 ({ends}). Which teeth lie "
            "behind it, and what other reason could they share?"
        )


def _reviews(run_data: RunData) -> Iterator[str]:
    row = run_data.one(section="outcome", analysis="C7", measure="recall_adjusted")
    if row is None or not row["valid"]:
        return
    missing = int(row["denominator"] - row["numerator"])
    yield (
        f"Of {int(row['denominator'])} teeth due, {missing} have no countable review "
        f"({in_hundred(1 - row['estimate'])} in 100). Who are they, and could they have fared "
        "otherwise than those who came?"
    )


def _actions(run_data: RunData) -> Iterator[str]:
    items = run_data.setting("actions", default=[])
    still = [item for item in items if item.get("status") == "open"]
    if still:
        yield (
            f"{counted(len(still), 'action is', 'actions are')} open. What has been done since "
            "the last meeting, and what does its measure show?"
        )


def _criterion(run_data: RunData, row: Row) -> str:
    return criterion_name(run_data, str(row["subject"])).rstrip(".")
