"""Limits and cautions, the same in every report."""

from lengthwise.report.cautions import QUERY, all_cautions
from lengthwise.report.run_data import RunData
from lengthwise.report.tables import bullet_list


def limits(run_data: RunData) -> str:
    """Return the cautions and how to query a record."""
    thresholds = run_data.setting("thresholds", default={})
    watch, review = (thresholds.get(name) for name in ("watch_mm", "review_mm"))
    listed = (
        f"Canals where two methods differ by more than {watch} mm are listed for a second "
        f"look, by more than {review} mm for review.\n\n"
        if watch and review
        else ""
    )
    return f"{bullet_list(all_cautions())}\n{listed}{_masked(run_data)}{QUERY}\n"


def _masked(run_data: RunData) -> str:
    """Return what is masked in this report, empty where nothing is."""
    reasons = run_data.estimates.get("reason")
    if reasons is None or not reasons.str.startswith("masked").any():
        return ""
    least = int(run_data.setting("disclosure", "internal_minimum", default=5))
    return (
        f"Shares on 1 to {least - 1} cases are masked in tables, with those that would give "
        "them away. Lists for clinical review are exempt, since each case on them is to be "
        "looked at; so are charts over time. This report is for the practice and must not "
        "leave it.\n\n"
    )
