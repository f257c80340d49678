"""A run in which every number may leave the practice."""

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from lengthwise.report.disclosure.cells import tabulate
from lengthwise.report.disclosure.families import DIFFERENCE, MODEL, shareable
from lengthwise.report.disclosure.linked import shares_behind, stands_on_hidden
from lengthwise.report.disclosure.periods import LONGER, begins_alike, relation
from lengthwise.report.disclosure.profiles import SHARED, Profile, profile_of
from lengthwise.report.disclosure.publish import (
    CARRIED,
    EARLIER,
    PROTECTING,
    SMALL,
    carried,
    difference,
    is_carried,
    masked,
    published,
)
from lengthwise.report.disclosure.relations import relate
from lengthwise.report.disclosure.releases import (
    Earlier,
    Key,
    earlier_results,
    gives_away,
    key_of,
    reference_result,
)
from lengthwise.report.disclosure.suppress import hidden_rows, small_rows
from lengthwise.report.disclosure.texts import shared_settings
from lengthwise.report.disclosure.ties import tie
from lengthwise.report.run_data import Row, RunData

PEOPLE = ("clinician", "site")
TOLD = {
    "masked_small": "masked: a count",
    "masked_to_protect": PROTECTING,
    "masked_earlier": EARLIER,
}


def shared_view(run_data: RunData, releases: Sequence[Mapping[str, Any]] = ()) -> RunData:
    """Return the run as it may be shared: aggregated, masked and rounded.

    Only the results named in `families` are in it. Plotted points, lists of cases, findings,
    input files, clinicians, sites and the name of the practice are not.

    Parameters
    ----------
    releases : sequence of mapping
        The records of what was shared before (`release_record`), oldest first. A result that
        would tell, beside them, of too few cases is masked.
    """
    profile = profile_of(run_data, SHARED)
    rows = shareable(run_data.estimates)
    estimates, told = _estimates(rows, profile, earlier_results(releases))
    settings = shared_settings(run_data.settings, _codes(run_data))
    settings["disclosure"] = {
        "profile": profile.name, "minimum_count": profile.minimum_count,
        "rounded_to": profile.base, "results": len(estimates), **told,
    }  # fmt: skip
    return RunData(
        _run(run_data.run, settings), estimates, *(
            frame.iloc[0:0] for frame in (run_data.points, run_data.lists, run_data.findings)
        )
    )  # fmt: skip


def as_shared(run_data: RunData) -> RunData:
    """Return a run that already is a shared view, else its shared view."""
    is_view = run_data.setting("disclosure", "profile") == SHARED
    return run_data if is_view else shared_view(run_data)


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


def _estimates(
    rows: pd.DataFrame, profile: Profile, history: Mapping[Key, list[Earlier]]
) -> tuple[pd.DataFrame, dict[str, int]]:
    if rows.empty:
        return rows, dict.fromkeys(TOLD, 0)
    references = {
        index: earlier
        for index, row in rows.iterrows()
        if (earlier := reference_result(row, history.get(key_of(row), []))) is not None
    }
    reasons = _reasons(rows, profile, references)
    written = _written(rows, reasons, references, profile)
    frame = pd.DataFrame(written, index=rows.index).drop(columns=["family"])
    starts = frame["reason"].where(~frame["valid"], "")
    told = {name: int(starts.str.startswith(start).sum()) for name, start in TOLD.items()}
    told["carried"] = int(frame["reason"].str.startswith(CARRIED).sum())
    return frame.assign(run_id=f"shared-{profile.name}"), told


def _reasons(
    rows: pd.DataFrame, profile: Profile, references: Mapping[Any, Earlier]
) -> dict[Any, str]:
    """Return the rows to mask, each with its reason."""
    table = tabulate(rows)
    relate(table, rows)
    known = {
        index
        for index, earlier in references.items()
        if rows.loc[index, "family"].kind != DIFFERENCE
        and gives_away(rows.loc[index], earlier, published(rows.loc[index], profile), profile)
    }
    periods = {index: (rows.loc[index, "period"], item) for index, item in references.items()}
    bounds, guarded = tie(table, periods, profile)
    small = small_rows(table, profile)
    public = {
        index for index, item in references.items()
        if item.is_shown and item.period == rows.loc[index, "period"] and index not in known
    }  # fmt: skip
    hidden = hidden_rows(
        table, profile, also=known, earlier=bounds, guarded=guarded, public=public
    )
    return {
        **dict.fromkeys(hidden, PROTECTING),
        **dict.fromkeys(known, EARLIER),
        **dict.fromkeys(small, SMALL.format(least=profile.minimum_count)),
    }


def _written(
    rows: pd.DataFrame, reasons: Mapping[Any, str], references: Mapping[Any, Earlier],
    profile: Profile,
) -> list[dict[str, Any]]:  # fmt: skip
    shown: dict[Any, dict[str, Any]] = {}
    for index, row in rows.iterrows():
        if index not in reasons:
            shown[index] = published(row, profile)
        else:
            shown[index] = _instead(row, reasons[index], references.get(index))
    for index, row in rows.iterrows():
        if row["family"].kind == DIFFERENCE:
            pair = shares_behind(row, rows, shown)
            is_old = any(share is not None and is_carried(share) for share in pair)
            shown[index] = (
                _instead(row, PROTECTING, references.get(index))
                if is_old
                else difference(shown[index], *pair)
            )
        elif row["family"].kind == MODEL and stands_on_hidden(row, rows, reasons):
            shown[index] = _instead(row, PROTECTING, references.get(index))
    return list(shown.values())


def _instead(row: Row, reason: str, earlier: Earlier | None) -> dict[str, Any]:
    """Return what stands in the place of a hidden row: what was shared before, or a mask."""
    is_longer = (
        earlier is not None
        and relation(earlier.period, row["period"]) == LONGER
        and begins_alike(earlier.period, row["period"])
    )
    if is_longer and earlier.is_shown and not reason.startswith(TOLD["masked_small"]):
        return carried(row, earlier)
    return masked(row, reason)
