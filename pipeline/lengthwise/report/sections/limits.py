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
    return f"{bullet_list(all_cautions())}\n{listed}{QUERY}\n"
