"""One stored run as frames: all that a report may know."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

import pandas as pd

from lengthwise.errors import ReportError

# One row of a frame: the stubs of pandas cannot tell a row from a value.
Row: TypeAlias = Any
ESTIMATE_KEYS = (
    "section",
    "analysis",
    "measure",
    "subject",
    "reference",
    "stratum_kind",
    "stratum",
    "period",
    "scope",
)
FRAMES = ("estimates", "points", "lists", "findings")
JSON_FIELDS = ("settings", "inputs", "versions")


@dataclass(frozen=True, slots=True)
class RunData:
    """The result tables of one run.

    Attributes
    ----------
    run : dict
        The row of `results.runs`, with settings, inputs and versions as Python values.
    estimates, points, lists : DataFrame
        The tables of the same names, this run's rows only, in their order.
    findings : DataFrame
        One row per check code: code, export, count, severity, remedy.
    """

    run: dict[str, Any]
    estimates: pd.DataFrame
    points: pd.DataFrame
    lists: pd.DataFrame
    findings: pd.DataFrame

    @property
    def settings(self) -> dict[str, Any]:
        return dict(self.run.get("settings") or {})

    def setting(self, *path: str, default: Any = "") -> Any:
        """Return a setting by its path of keys, `default` where any key is absent."""
        value: Any = self.settings
        for key in path:
            if not isinstance(value, Mapping) or key not in value:
                return default
            value = value[key]
        return value

    def select(self, **wanted: str) -> pd.DataFrame:
        """Return the estimates whose named columns equal the wanted values, in position order.

        `stratum_kind` is the whole group unless it is asked for, so that a stratum's
        number never passes for the practice's.
        """
        wanted.setdefault("stratum_kind", "")
        rows = self.estimates
        for column, value in wanted.items():
            if column not in ESTIMATE_KEYS:
                raise ValueError(f"select must name a key column, got {column}")
            rows = rows[rows[column] == value]
        return rows.sort_values("position", kind="stable")

    def one(self, **wanted: str) -> Row | None:
        """Return the first such estimate, or None where the run has none."""
        rows = self.select(**wanted)
        return None if rows.empty else rows.iloc[0]

    def listed(self, name: str) -> pd.DataFrame:
        """Return the rows of one list, in position order."""
        rows = self.lists[self.lists["list_name"] == name]
        return rows.sort_values("position", kind="stable")

    def plotted(self, figure: str, panel: str | None = None) -> pd.DataFrame:
        """Return the plotted points of one figure, or of one of its panels."""
        rows = self.points[self.points["figure"] == figure]
        if panel is not None:
            rows = rows[rows["panel"] == panel]
        return rows.sort_values("position", kind="stable")


def from_frames(frames: Mapping[str, Any]) -> RunData:
    """Build the run from what the store reads: `run` as a mapping and the four frames."""
    run = dict(frames["run"])
    for name in JSON_FIELDS:
        if isinstance(run.get(name), str):
            run[name] = json.loads(run[name])
    return RunData(run, *(_frame(frames.get(name)) for name in FRAMES))


def load_run(database: str | Path, run: str = "latest") -> RunData:
    """Read a run from an audit database (or its .json snapshot), here or in a folder above.

    A report's source names the database relative to the checkout or the audit folder,
    and the rendering engine decides in which folder the cells run.
    """
    if str(database).endswith(".json"):
        from lengthwise.report.snapshot import read_snapshot

        return read_snapshot(Path(database))
    from lengthwise.store.results import read_run

    return from_frames(read_run(find_database(Path(database)), run))


def find_database(path: Path) -> Path:
    """Return `path` if it exists, else the same relative path in the nearest folder above."""
    if path.is_absolute():
        candidates = [path]
    else:
        candidates = [folder / path for folder in (Path.cwd(), *Path.cwd().parents)]
    for candidate in candidates:
        if candidate.is_file():
            return candidate
    raise ReportError(
        f"No database {path.name} was found; run `lengthwise demo` or name another database."
    )


def _frame(value: pd.DataFrame | None) -> pd.DataFrame:
    return pd.DataFrame() if value is None else value.reset_index(drop=True)
