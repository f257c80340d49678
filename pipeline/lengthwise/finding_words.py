"""Findings by code, in words: how many, where the first are, and what to do."""

from typing import TYPE_CHECKING

from lengthwise.store.queries import known_codes

if TYPE_CHECKING:
    import pandas as pd

SHOWN_ROWS = 5
KINDS = {"error": "Set aside until mended:", "warning": "Kept, worth a look:"}


def first_rows(findings: "pd.DataFrame") -> str:
    """Return the first rows of one code's findings, file by file."""
    first = findings.head(SHOWN_ROWS)
    parts = []
    for file, own in first.groupby("file", sort=False):
        numbers = ", ".join(f"{row}" for row in own["row_number"])
        parts.append(f"{file} {'row' if len(own) == 1 else 'rows'} {numbers}")
    left = len(findings) - len(first)
    return "; ".join(parts) + (f" and {left:,} more" if left else "")


def finding_lines(findings: "pd.DataFrame", codes_at_most: int | None = None) -> list[str]:
    """Return the summary by code: what was set aside before what was kept, most frequent first."""
    rows = len(findings[["file", "row_number"]].drop_duplicates())
    lines = [
        "",
        f"Findings: {len(findings):,} in {rows:,} rows (row 1 is the first row after the header)",
    ]
    remedies, left = known_codes(), codes_at_most
    for severity, title in KINDS.items():
        groups = sorted(
            findings[findings["severity"] == severity].groupby("code"),
            key=lambda item: (-len(item[1]), item[0]),
        )
        shown = groups if left is None else groups[:left]
        if shown:
            lines.append(title)
        for code, group in shown:
            lines += [
                f"  {len(group):6,}  {code}: {first_rows(group)}",
                f"          {remedies[str(code)].remedy}",
            ]
        if len(groups) > len(shown):
            lines.append(f"          and {len(groups) - len(shown)} further codes like these")
        left = None if left is None else max(left - len(shown), 1)
    if codes_at_most is not None:
        lines.append("All of them, with every row: lengthwise check")
    return lines
