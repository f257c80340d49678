"""A run as one JSON file, so that several reports can read it while the database is closed."""

import json
from pathlib import Path
from typing import Any

import pandas as pd

from lengthwise.errors import ReportError
from lengthwise.report.run_data import FRAMES, RunData, from_frames

NUMBERS = {
    "estimates": (
        *("estimate", "lower", "upper", "level", "target"),
        *("numerator", "denominator", "n_used", "n_missing", "n_clusters", "position"),
    ),
    "points": ("x", "y", "lower", "upper", "n", "position"),
    "lists": ("value_mm", "position"),
    "findings": ("count",),
}


def write_snapshot(run_data: RunData, path: Path) -> Path:
    """Write the run to `path`; numbers keep every digit."""
    content: dict[str, Any] = {"run": run_data.run}
    for name in FRAMES:
        frame: pd.DataFrame = getattr(run_data, name)
        records = frame.astype(object).where(frame.notna(), None)
        content[name] = {
            "columns": list(frame.columns),
            "data": [[_plain(value) for value in row] for row in records.to_numpy()],
        }
    path.write_text(json.dumps(content, default=str), encoding="utf-8")
    return path


def read_snapshot(path: Path) -> RunData:
    """Read back what `write_snapshot` wrote."""
    if not path.is_file():
        raise ReportError(f"The run file {path.name} is not there.")
    content = json.loads(path.read_text(encoding="utf-8"))
    frames = {name: _typed(name, content[name]) for name in FRAMES}
    return from_frames({"run": content["run"], **frames})


def _plain(value: Any) -> Any:
    return value.item() if hasattr(value, "item") else value


def _typed(name: str, split: dict[str, Any]) -> pd.DataFrame:
    frame = pd.DataFrame(split["data"], columns=split["columns"])
    for column in NUMBERS[name]:
        if column in frame:
            frame[column] = pd.to_numeric(frame[column])
    if "valid" in frame:
        frame["valid"] = frame["valid"].astype(bool)
    return frame
