"""Title, period and the box that says what kind of document this is."""

import yaml

from lengthwise.report import escape
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import AUDIT, document_kind, missing_for_audit
from lengthwise.report.tables import callout

TOPIC = "root-canal lengths, fillings and healing"


def title(run_data: RunData) -> str:
    """Return the document's title: its kind, its topic and its period."""
    return f"{document_kind(run_data)} of {TOPIC}, {escape.plain(run_data.run['period'])}"


def opening(run_data: RunData) -> str:
    """Return the title block and the box with purpose, period and preset."""
    kind = document_kind(run_data)
    practice = run_data.setting("practice_name", default="not named")
    cut_off = str(run_data.run["created_at"])[:10]
    metadata = yaml.safe_dump({"title": title(run_data)}, allow_unicode=True, width=1000)
    again = escape.markdown(run_data.setting("re_audit_date") or "no date set")
    lines = [
        f"**Practice:** {escape.markdown(practice)}. "
        f"**Period:** {escape.markdown(run_data.run['period'])}, data as of {cut_off}. "
        f"**Next measure:** {again}.",
        f"**Preset:** {escape.markdown(_preset(run_data))}.",
    ]
    if reference := run_data.setting("approval_reference"):
        lines.append(f"**Approval reference:** {escape.markdown(reference)}")
    missing = missing_for_audit(run_data)
    if kind != AUDIT and missing:
        lines.append(f"Not called an audit, since it has no {', no '.join(missing)}.")
    return f"---\n{metadata}---\n\n" + callout("note", kind, "\\\n".join(lines))


def _preset(run_data: RunData) -> str:
    preset = str(run_data.setting("preset", default="not recorded"))
    deep = {"0-2": ("2", "0"), "0.5-2": ("2", "0.5"), "0-3": ("3", "0")}.get(preset)
    if deep is None:
        return preset
    return (
        f"{preset} (a filling is within where it ends {deep[1]} to {deep[0]} mm short of the "
        "radiographic apex)"
    )
