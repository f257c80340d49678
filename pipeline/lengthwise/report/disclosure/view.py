"""A run in which every number may leave the practice."""

from collections.abc import Iterable, Sequence
from typing import Any

import pandas as pd

from lengthwise.report.disclosure.cells import tabulate
from lengthwise.report.disclosure.families import DIFFERENCE, MODEL, shareable
from lengthwise.report.disclosure.linked import shares_behind, stands_on_hidden
from lengthwise.report.disclosure.profiles import SHARED, Profile, profile_of
from lengthwise.report.disclosure.publish import (
    PROTECTING,
    SMALL,
    difference,
    masked,
    published,
)
from lengthwise.report.disclosure.relations import relate
from lengthwise.report.disclosure.suppress import hidden_rows
from lengthwise.report.disclosure.texts import shared_settings
from lengthwise.report.run_data import RunData

PEOPLE = ("clinician", "site")


def shared_view(run_data: RunData) -> RunData:
    """Return the run as it may be shared: aggregated, masked and rounded.

    Only the results named in `families` are in it. Plotted points, lists of cases, findings,
    input files, clinicians, sites and the name of the practice are not.
    """
    profile = profile_of(run_data, SHARED)
    rows = shareable(run_data.estimates)
    estimates, told = _estimates(rows, profile)
    settings = shared_settings(run_data.settings, _codes(run_data))
    settings["disclosure"] = {
        "profile": profile.name, "minimum_count": profile.minimum_count,
        "rounded_to": profile.base, "shown": len(estimates) - sum(told.values()), **told,
    }  # fmt: skip
    return RunData(
        _run(run_data.run, settings), estimates, *(
            frame.iloc[0:0] for frame in (run_data.points, run_data.lists, run_data.findings)
        )
    )  # fmt: skip


def _run(run: dict[str, Any], settings: dict[str, Any]) -> dict[str, Any]:
    # The time of day of a run and the files' hashes could be matched with other records.
    return {
        "run_id": f"shared-{run['period']}", "period": run["period"],
        "created_at": str(run["created_at"])[:10], "version": run["version"],
        "settings": settings, "inputs": [], "versions": {},
    }  # fmt: skip


def _codes(run_data: RunData) -> set[str]:
    """Return every code of a person, a place or a case that the run knows."""
    estimates, lists = run_data.estimates, run_data.lists
    found: set[str] = set()
    if len(estimates):
        found |= set(estimates.loc[estimates["stratum_kind"].isin(PEOPLE), "stratum"])
        found |= {scope.partition(":")[2] for scope in estimates["scope"]}
    for column in ("treatment_id", "clinician_id"):
        if column in lists:
            found |= set(lists[column].astype(str))
    return found


def _estimates(rows: pd.DataFrame, profile: Profile) -> tuple[pd.DataFrame, dict[str, int]]:
    if rows.empty:
        return rows, {"masked_small": 0, "masked_to_protect": 0}
    table = tabulate(rows)
    relate(table, rows)
    primary, secondary = hidden_rows(table, profile)
    written = _written(rows, primary, secondary, profile)
    frame = pd.DataFrame(written, index=rows.index).drop(columns=["family"])
    counts = {
        "masked_small": len(primary),
        "masked_to_protect": int((~frame["valid"] & (frame["reason"] == PROTECTING)).sum()),
    }
    return frame.assign(run_id=f"shared-{profile.name}"), counts


def _written(
    rows: pd.DataFrame, primary: Iterable[int], secondary: Iterable[int], profile: Profile
) -> Sequence[dict[str, Any]]:
    primary, secondary = set(primary), set(secondary)
    small = SMALL.format(least=profile.minimum_count)
    shown: dict[int, dict[str, Any]] = {}
    for index, row in rows.iterrows():
        if index in primary or index in secondary:
            shown[index] = masked(row, small if index in primary else PROTECTING)
        else:
            shown[index] = published(row, profile)
    for index, row in rows.iterrows():
        if row["family"].kind == DIFFERENCE and index not in primary:
            shown[index] = difference(shown[index], *shares_behind(row, rows, shown))
        elif row["family"].kind == MODEL and stands_on_hidden(row, rows, primary | secondary):
            shown[index] = masked(row, PROTECTING)
    return [shown[index] for index in rows.index]
