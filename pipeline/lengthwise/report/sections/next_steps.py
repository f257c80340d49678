"""What to do next: the lists first, then the largest certain gaps, then measure again."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.wording import counted, criterion_name, is_certain

GAPS_AT_MOST = 3
SAFETY_LISTS = ("incidents", "altered_sensation", "beyond_lower_posterior")


def next_steps(run_data: RunData) -> str:
    """Return the steps as a list under a heading of bold text."""
    steps = [_safety(run_data), *_gaps(run_data), _again(run_data)]
    said = "\n".join(f"- {escape.markdown(step)}" for step in steps if step)
    return f"### What to do next, for the meeting to decide\n\n{said}\n"


def largest_gaps(run_data: RunData) -> list[Row]:
    """Return the shares of criteria whose interval lies on the unwanted side, widest first."""
    wanted = {
        str(item["id"]): item.get("direction", "at_least")
        for item in run_data.setting("criteria", default=[])
    }
    rows = run_data.select(section="criteria", measure="share")
    found = []
    for _, row in rows[rows["valid"] & rows["target"].notna()].iterrows():
        gap = row["target"] - row["estimate"]
        gap = -gap if wanted.get(str(row["subject"])) == "at_most" else gap
        if gap > 0 and is_certain(row, row["target"]):
            found.append((gap, row))
    return [row for _, row in sorted(found, key=lambda pair: -pair[0])]


def _safety(run_data: RunData) -> str:
    count = sum(len(run_data.listed(name)) for name in SAFETY_LISTS)
    if not count:
        return ""
    return f"See the {counted(count, 'case')} listed under Cases to look at first."


def _gaps(run_data: RunData) -> list[str]:
    criteria = {str(item["id"]): item for item in run_data.setting("criteria", default=[])}
    return [
        _gap_step(run_data, str(row["subject"]), criteria.get(str(row["subject"]), {}))
        for row in largest_gaps(run_data)[:GAPS_AT_MOST]
    ]


def _gap_step(run_data: RunData, name: str, item: dict[str, object]) -> str:
    advice = str(
        item.get("suggestion") or f"Agree an action for: {criterion_name(run_data, name)}"
    )
    advice = advice.rstrip(".")
    cases = run_data.one(section="criteria", subject=name, measure="gap_cases")
    more = (
        f" ({counted(cases['estimate'], 'case')} short of the target)"
        if cases is not None and cases["valid"] and not pd.isna(cases["estimate"])
        else ""
    )
    return f"{advice}{more}. {_action(run_data, name)}"


def _action(run_data: RunData, name: str) -> str:
    items = run_data.setting("actions", default=[])
    for place, item in enumerate(items, start=1):
        if item.get("criterion") == name and item.get("status") == "open":
            return f"Action {place} is open: {item.get('owner_role', '')}, due {item.get('due', '')}."
    return "No open action covers it: name an owner and a date."


def _again(run_data: RunData) -> str:
    date = run_data.setting("re_audit_date")
    return (
        f"Measure again in {date}, in the same way." if date else "Set a date to measure again."
    )
