"""Canals where two methods differ by more than the action threshold (A10)."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

WATCH_MM = 0.5
REVIEW_MM = 1.0
NONE, WATCH, REVIEW = "none", "watch", "review"


@dataclass(frozen=True, slots=True)
class Discordance:
    """Per canal: difference in mm, list ("none", "watch", "review") and what may explain it.

    `explanations` holds for each canal the names of the recorded conditions that apply; an
    empty tuple means that none was recorded, not that there was none. `is_assessed` is
    False where a length is missing.
    """

    difference_mm: NDArray[np.float64]
    status: NDArray[np.str_]
    explanations: tuple[tuple[str, ...], ...]
    is_assessed: NDArray[np.bool_]
    n_watch: int
    n_review: int
    n_used: int
    n_missing: int


def discordant_canals(
    method: ArrayLike,
    reference: ArrayLike,
    *,
    conditions: dict[str, ArrayLike] | None = None,
    watch_mm: float = WATCH_MM,
    review_mm: float = REVIEW_MM,
) -> Discordance:
    """Return which canals (n,) exceed a threshold, with the conditions recorded there.

    "More than" is strict after rounding to 0.01 mm. `conditions` maps a name (wet, metal
    contact, small file, ...) to true, false or missing by canal; only true explains.
    """
    if not 0 <= watch_mm <= review_mm:
        raise ValueError("thresholds must obey 0 <= watch_mm <= review_mm.")
    difference = np.asarray(method, dtype=float) - np.asarray(reference, dtype=float)
    known = np.isfinite(difference)
    size = np.round(np.abs(np.where(known, difference, 0.0)), 2)
    status = np.full(len(size), NONE, dtype="<U6")
    status[size > watch_mm + 1e-9] = WATCH
    status[size > review_mm + 1e-9] = REVIEW
    found = _explanations(status != NONE, conditions or {})
    return Discordance(
        difference,
        status,
        found,
        known,
        int(np.sum(status == WATCH)),
        int(np.sum(status == REVIEW)),
        int(known.sum()),
        int((~known).sum()),
    )


def _explanations(
    listed: NDArray[np.bool_], conditions: dict[str, ArrayLike]
) -> tuple[tuple[str, ...], ...]:
    flags = {}
    for name, values in conditions.items():
        column = pd.array(np.asarray(values, dtype=object), dtype="boolean")
        if len(column) != len(listed):
            raise ValueError(f"condition {name!r} must have one entry per canal.")
        flags[name] = column.to_numpy(dtype=bool, na_value=False)
    return tuple(
        tuple(name for name, flag in flags.items() if flag[row]) if listed[row] else ()
        for row in range(len(listed))
    )
