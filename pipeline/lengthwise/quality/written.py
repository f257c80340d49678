"""Writes what `lengthwise check` found: the findings as CSV and the data-quality page."""

from pathlib import Path
from typing import TYPE_CHECKING

from lengthwise.errors import StoreError
from lengthwise.folder import AuditFolder
from lengthwise.quality.page import write_page
from lengthwise.report.escape import csv
from lengthwise.settings import load_settings

if TYPE_CHECKING:
    import pandas as pd

    from lengthwise.intake import IntakeResult

_COLUMNS = ["file", "row_number", "export", "column_name", "code", "severity"]


def write_check(
    folder: AuditFolder, result: "IntakeResult", page: str | None, findings: str | None
) -> list[str]:
    """Write page and findings to the files named, else to the audit folder; return what to print.

    A file that was named and cannot be written is an error; without a name the check still
    answers, and says so.
    """
    lines = []
    practice = load_settings(folder.root).practice_name
    default = folder.checks
    for what, named, usual, write in (
        ("Findings", findings, default / "findings.csv",
         lambda target: _write_findings(result.findings, target)),
        ("Data-quality page", page, default / "data-quality.html",
         lambda target: write_page(result, practice, target)),
    ):  # fmt: skip
        try:
            lines.append(f"{what}: {write(Path(named) if named else usual)}")
        except StoreError as error:
            if named:
                raise
            lines.append(f"{what} not written: {error}")
    return lines


def _write_findings(findings: "pd.DataFrame", target: Path) -> Path:
    table = findings[_COLUMNS].assign(file=findings["file"].map(csv))
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        table.to_csv(target, index=False)
    except OSError:
        raise StoreError(
            f"{target.name}: the findings cannot be written; check the folder's rights and free "
            "space, or name another file with --findings"
        ) from None
    return target
