"""What loads did, in words; file names and counts only, never a row's value."""

from collections.abc import Iterable, Mapping
from itertools import groupby
from typing import Any

from lengthwise.check.dates import FINER_THAN_A_YEAR


def change_words(
    name: str, added: int, unchanged: int, absent: int, changed: int, fields: Mapping[str, int]
) -> list[str]:
    """Return what a file that corrects an earlier one changed; nothing for a file of new rows."""
    if not (unchanged or changed):
        return []
    detail = ", ".join(f"{field} in {count:,}" for field, count in fields.items())
    lines = [
        f"{name}: corrects earlier rows: {added:,} added, {changed:,} changed"
        + (f" ({detail})" if detail else "")
        + f", {unchanged:,} unchanged"
    ]
    if absent:
        lines.append(
            f"{name}: {absent:,} rows of the earlier file are not in this one; they stay and "
            "count. To drop them, take back (lengthwise undo) this load and the one they came "
            "with, then load this file again"
        )
    return lines


def date_words(regimes: Iterable[tuple[str, str]]) -> list[str]:
    """Return what is kept of the dates of files, given as (file, regime), and how fine it is."""
    lines = [f"{name}: {regime}" for name, regime in regimes if regime]
    return (
        ["Dates:", *(f"  {line}" for line in lines), f"  {FINER_THAN_A_YEAR}"] if lines else []
    )


def load_lines(loads: list[dict[str, Any]], changes: list[dict[str, Any]]) -> list[str]:
    """Return the list of loads: a line each, and below it what its files changed."""
    by_load = {key: list(rows) for key, rows in groupby(changes, lambda row: row["load_id"])}
    lines: list[str] = []
    for load in loads:
        if load["undone_at"]:
            lines.append(_taken_back(load))
            continue
        lines.append(_kept(load))
        for _, rows in groupby(
            by_load.get(load["load_id"], []), lambda row: row["file_number"]
        ):
            own = list(rows)
            first = own[0]
            fields = {
                row["column_name"]: row["rows_changed"] for row in own if row["column_name"]
            }
            lines += [
                f"  {line}"
                for line in change_words(
                    first["file_name"], first["rows_added"], first["rows_unchanged"],
                    first["rows_absent"], first["rows_superseding"], fields,
                )
            ]  # fmt: skip
        if load["date_regimes"]:
            lines.append(f"  dates: {load['date_regimes']}")
    return lines or ["No load is stored."]


def _kept(load: dict[str, Any]) -> str:
    return (
        f"load {load['load_id']}  {load['loaded_at']:%Y-%m-%d %H:%M} UTC  "
        f"{load['files']} files, {load['rows_read']:,} rows read: "
        f"{load['rows_accepted']:,} accepted ({load['rows_superseding']:,} corrected an "
        f"earlier row, {load['rows_unchanged']:,} were known), "
        f"{load['rows_quarantined']:,} set aside"
    )


def _taken_back(load: dict[str, Any]) -> str:
    return (
        f"load {load['load_id']}  {load['loaded_at']:%Y-%m-%d %H:%M} UTC  taken back "
        f"{load['undone_at']:%Y-%m-%d %H:%M} UTC by {load['undone_by']}: {load['files']} files, "
        f"{load['rows_read']:,} rows read; {load['rows_removed']:,} rows removed, "
        f"{load['rows_restored']:,} earlier rows count again"
    )
