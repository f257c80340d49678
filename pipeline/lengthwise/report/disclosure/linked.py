"""Which shown shares a difference or a fitted risk stands on."""

from collections.abc import Collection, Mapping
from typing import Any

import pandas as pd

from lengthwise.report.run_data import Row

CRUDE = "share_not_healed"


def shares_behind(
    row: Row, rows: pd.DataFrame, shown: Mapping[int, dict[str, Any]]
) -> tuple[Any, Any]:
    """Return the first and second share of a difference as they are shown, None where absent."""
    wanted = {
        "C1": (
            {"measure": CRUDE, "subject": row["subject"]},
            {"measure": CRUDE, "subject": row["reference"]},
        ),
        "chain": (
            {"measure": "share_of_fillings", "subject": row["subject"], "stratum": "doubtful"},
            {"measure": "share_of_fillings", "subject": row["subject"], "stratum": "other"},
        ),
        "B7": tuple(
            {"measure": measure, "subject": row["subject"], "stratum": row["stratum"]}
            for measure in ("share_after", "share_before")
        ),
    }[row["analysis"]]
    found = [_index(rows, {"analysis": row["analysis"], **keys}) for keys in wanted]
    return tuple(None if index is None else shown[index] for index in found)  # type: ignore[return-value]


def stands_on_hidden(row: Row, rows: pd.DataFrame, hidden: Collection[int]) -> bool:
    """Return whether a crude share that a fitted risk comes near to is hidden."""
    subjects = [row["subject"]]
    if row["measure"] == "risk_difference":
        subjects.append(row["reference"])
    crude = [_index(rows, {"analysis": "C1", "measure": CRUDE, "subject": s}) for s in subjects]
    return any(index in hidden for index in crude if index is not None)


def _index(rows: pd.DataFrame, keys: dict[str, str]) -> int | None:
    found = rows
    for column, value in keys.items():
        found = found[found[column] == value]
    return None if found.empty else int(found.index[0])
