"""Actions agreed, and the date to measure again."""

from lengthwise.report import escape
from lengthwise.report.run_data import RunData
from lengthwise.report.tables import pipe_table, text

FIELDS = {
    "gap": "Gap",
    "cause": "Likely reason",
    "action": "Action",
    "owner_role": "Owner (role)",
    "due": "Due",
    "measure": "Measure",
    "status": "Status",
}


def actions(run_data: RunData) -> str:
    """Return the table of actions, or a plain statement that there are none."""
    items = run_data.setting("actions", default=[])
    date = escape.markdown(run_data.setting("re_audit_date") or "not set")
    again = f"Date to measure again, in the same way: {date}.\n"
    if not items:
        return f"No actions are recorded for this run.\n\n{again}"
    rows = [[str(item.get(field, "")) for field in FIELDS] for item in items]
    columns = [text(heading) for heading in FIELDS.values()]
    table = pipe_table(columns, rows, caption="Actions", label="actions")
    return f"{table}\n{again}"
