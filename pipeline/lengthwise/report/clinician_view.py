"""Cut a run down to one clinician: own rows, the practice's rules, peers without names.

A sheet is rendered from what this module returns and from nothing else, so that another
clinician's rows are never in the folder where it is made.
"""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from lengthwise.errors import ReportError
from lengthwise.report.run_data import RunData

PREFIX = "clinician:"
# The clinician reads of "own"; whose it is stands in a key that is kept apart.
OWN = "own"
PEERS = "peers"
EXAMPLE = "0" * 16
# Two digits, so that a peer's numerator and denominator cannot be worked out.
PEER_DIGITS = 2
# What the sheet needs of the settings; actions name other people's work.
KEPT_SETTINGS = (
    "practice_name", "purpose", "preset", "thresholds", "small_numbers", "confidence_level",
    "criteria", "re_audit_date",
)  # fmt: skip


def clinicians_of(run_data: RunData) -> list[str]:
    """Return the codes of the clinicians that have results of their own, in order."""
    scopes = run_data.estimates["scope"].drop_duplicates()
    own = scopes[scopes.str.startswith(PREFIX)]
    return sorted(own.str.removeprefix(PREFIX))


def clinician_view(run_data: RunData, code: str, slug: str) -> RunData:
    """Return the run as one clinician may see it.

    Parameters
    ----------
    code : str
        The clinician; the code stands nowhere in what is returned.
    slug : str
        Takes the code's place in the ids of results.

    Raises
    ------
    ValueError
        The run holds nothing of this clinician.
    """
    own = run_data.estimates[run_data.estimates["scope"] == f"{PREFIX}{code}"]
    if own.empty:
        raise ValueError("this clinician has no result in the run")
    return RunData(
        _run(run_data.run, slug),
        _estimates(own, slug),
        _peers(run_data.points, own),
        _lists(run_data.lists, code),
        run_data.findings.iloc[0:0],
    )


def _run(run: Mapping[str, Any], slug: str) -> dict[str, Any]:
    """Keep what names the run; file names can hold a clinician's code, so inputs go."""
    settings = run.get("settings") or {}
    kept = {name: settings[name] for name in KEPT_SETTINGS if name in settings}
    kept["sheet"] = slug
    return {**run, "settings": kept, "inputs": []}


def _estimates(own: pd.DataFrame, slug: str) -> pd.DataFrame:
    ids = [f"{_stem(str(value))}.clinician-{slug}" for value in own["result_id"]]
    renamed = own.assign(scope=OWN, result_id=ids, position=range(len(own)))
    return renamed.reset_index(drop=True)


def _stem(result_id: str) -> str:
    """Return the id without its last part, which names the clinician."""
    return result_id.rpartition(".clinician-")[0]


def _peers(points: pd.DataFrame, own: pd.DataFrame) -> pd.DataFrame:
    """Return the others' shares, in the order of size, with nothing that tells them apart."""
    peers = points[points["figure"] == PEERS]
    shares = own[(own["measure"] == "share") & own["valid"]].set_index("subject")["estimate"]
    kept = [
        _without_own(panel, shares.get(name))
        for name, panel in peers.groupby("panel", sort=False)
    ]
    rows = pd.concat(kept) if kept else peers
    y = rows["y"].astype(float).round(PEER_DIGITS)
    empty = {"x": 0.0, "label": "", "lower": float("nan"), "upper": float("nan")}
    rows = rows.assign(y=y, n=pd.NA, **empty)
    return rows.assign(position=range(len(rows))).reset_index(drop=True)


def _without_own(panel: pd.DataFrame, share: float | None) -> pd.DataFrame:
    """Take the clinician's own point out: the first that has the share."""
    panel = panel.sort_values("y", kind="stable")
    if share is None:
        return panel
    same = panel.index[(panel["y"] - share).abs() < 1e-9]
    return panel.drop(same[:1])


def _lists(lists: pd.DataFrame, code: str) -> pd.DataFrame:
    own = lists[lists["clinician_id"] == code]
    return own.assign(clinician_id=OWN, position=range(len(own))).reset_index(drop=True)


def as_sheet(run_data: RunData) -> RunData:
    """Return a view as it is; of a whole run, the view of its first clinician.

    The source then renders by itself with its default parameters, as the other sources do.
    """
    if set(run_data.estimates["scope"]) == {OWN}:
        return run_data
    codes = clinicians_of(run_data)
    if not codes:
        raise ReportError("This run holds no result of a clinician; run lengthwise analyse.")
    return clinician_view(run_data, codes[0], EXAMPLE)
