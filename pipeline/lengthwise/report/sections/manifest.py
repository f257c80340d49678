"""What made this report: run, period, settings, inputs with their hashes, versions."""

import os
from collections.abc import Iterator, Mapping
from typing import Any

from lengthwise.report.escape import markdown
from lengthwise.report.run_data import RunData
from lengthwise.report.tables import figure, pipe_table, text

# Criteria and actions have tables of their own.
SHOWN_ELSEWHERE = {"criteria", "actions"}
HASH_LETTERS = 16


def manifest(run_data: RunData) -> str:
    """Return the tables from which the run can be repeated and told from others."""
    parts = [_run(run_data), _inputs(run_data), _settings(run_data)]
    return "\n".join(part for part in parts if part)


def _run(run_data: RunData) -> str:
    run = run_data.run
    rows = [
        ("run", str(run["run_id"])),
        ("period", str(run["period"])),
        ("analysed at (UTC)", str(run["created_at"])),
        ("lengthwise", str(run["version"])),
        *((str(name), str(value)) for name, value in dict(run.get("versions") or {}).items()),
    ]
    # Only the embedded engine tells its name; every other caller is Quarto.
    rows.append(("report engine", os.environ.get("LENGTHWISE_REPORT_ENGINE", "Quarto")))
    columns = (text("What"), text("Value"))
    return pipe_table(columns, rows, caption="Run and versions", label="run")


def _inputs(run_data: RunData) -> str:
    inputs = run_data.run.get("inputs") or []
    if not inputs:
        return ""
    rows = [
        (
            str(item.get("file") or item.get("name", "")),
            str(item.get("export", "")),
            str(item.get("rows") or item.get("rows_read", "")),
            str(item.get("sha256", ""))[:HASH_LETTERS],
        )
        for item in inputs
    ]
    columns = (
        text("File"),
        text("Export"),
        figure("Rows"),
        text(f"SHA-256, first {HASH_LETTERS} letters"),
    )
    return pipe_table(columns, rows, caption="Input files", label="inputs")


def _settings(run_data: RunData) -> str:
    """Return the settings as one paragraph: a table of them would fill a page."""
    shown = {
        key: value for key, value in run_data.settings.items() if key not in SHOWN_ELSEWHERE
    }
    said = "; ".join(f"{name}: {value}" for name, value in _flattened(shown))
    return f"**Settings of the run.** {markdown(said)}\n" if said else ""


def _flattened(settings: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, str]]:
    for key, value in settings.items():
        name = f"{prefix}{key}"
        if isinstance(value, Mapping):
            yield from _flattened(value, f"{name}.")
        elif value not in ("", None, [], ()):
            yield name, str(value)
