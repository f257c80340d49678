"""Actions agreed, whether their measure moved, and the date to measure again."""

from typing import Any

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.run_data import RunData
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import (
    criterion_name,
    frequency,
    in_hundred,
    is_certain,
    number,
    period_words,
    refusal,
    sentence,
)

FIELDS = {
    "gap": "Gap",
    "cause": "Likely reason",
    "action": "Action",
    "owner_role": "Owner (role)",
    "due": "Due",
    "measure": "Measure",
    "status": "Status",
}
# What is still to do stands first.
ORDER = {"open": 0, "done": 1, "stopped": 2}
CAUTION = (
    "A change after an action goes with the action in time; other changes at the same time "
    "can lie behind it. In simulated practices the interval of a change held the truth 92 to 97 "
    "times in 100.\n"
)


def actions(run_data: RunData) -> str:
    """Return the actions, open ones first, and what was measured after each."""
    items = run_data.setting("actions", default=[])
    date = escape.markdown(run_data.setting("re_audit_date") or "not set")
    again = f"Date to measure again, in the same way: {date}.\n"
    dropped = _dropped(run_data)
    if not items:
        return f"{dropped}No actions are recorded for this run.\n\n{again}"
    numbered = sorted(
        enumerate(items, start=1), key=lambda pair: ORDER.get(pair[1].get("status"), 0)
    )
    rows = [
        [
            str(place), *(str(item.get(field, "")) for field in FIELDS),
            _carried(run_data, place),
        ]
        for place, item in numbered
    ]  # fmt: skip
    columns = [figure("No."), *(text(heading) for heading in FIELDS.values()), text("Carried")]
    table = pipe_table(columns, rows, caption="Actions", label="actions")
    measured = [_after(run_data, place, item) for place, item in numbered]
    told = "\n".join(part for part in measured if part)
    parts = (dropped, table, told, CAUTION if told else "", again)
    return "\n".join(part for part in parts if part)


def _carried(run_data: RunData, place: int) -> str:
    """Return since when an action is open, and that its date has passed."""
    row = run_data.one(analysis="carried", stratum_kind="action", stratum=str(place))
    return "" if row is None else str(row["reason"])


def _dropped(run_data: RunData) -> str:
    """Return the actions that were open before and are no longer in the file."""
    rows = run_data.select(analysis="carried", stratum_kind="dropped_action")
    told = (f"- {escape.markdown(sentence(str(text)))}\n" for text in rows["reason"])
    return "".join(told) + "\n" if len(rows) else ""


def _after(run_data: RunData, place: int, item: dict[str, Any]) -> str:
    rows = run_data.select(analysis="B7", stratum_kind="action", stratum=str(place))
    if rows.empty:
        return ""
    names = dict.fromkeys(rows["subject"])
    told = " ".join(_moved(run_data, rows[rows["subject"] == name]) for name in names)
    opening = f"Action {place}, from {item.get('from_month', '')}."
    return f"**{escape.markdown(opening)}** {escape.markdown(told)}\n"


def _moved(run_data: RunData, rows: pd.DataFrame) -> str:
    found = {row["measure"]: row for _, row in rows.iterrows()}
    name = criterion_name(run_data, str(rows.iloc[0]["subject"])).rstrip(".")
    before, after = found["share_before"], found["share_after"]
    shares = (
        f"{name}: before ({period_words(before['period'])}) {frequency(before)}, after "
        f"({period_words(after['period'])}) {frequency(after)}"
    )
    change, lasting = found["share_change"], found["sustained"]
    # Whether a change lasts is said of a change, or where it is too soon to see one.
    is_told = is_certain(change, 0.0) or "not sustained" not in lasting["reason"]
    told = sentence(str(lasting["reason"])) if is_told else ""
    return f"{sentence(shares)} {_change(change)} {told}".strip()


def _change(row: pd.Series) -> str:
    if not row["valid"]:
        return sentence(f"Change: {refusal(row)}")
    ends = " to ".join(number(100 * row[end], 0, signed=True) for end in ("lower", "upper"))
    interval = f"95% interval {ends} in 100"
    if not is_certain(row, 0.0):
        return sentence(
            f"No change is shown ({number(100 * row['estimate'], 0, signed=True)} in 100; "
            f"{interval})"
        )
    side = "more" if row["estimate"] > 0 else "fewer"
    return sentence(f"{in_hundred(abs(row['estimate']))} in 100 {side} ({interval})")
