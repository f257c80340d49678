"""The crude table: outcome by level, before any adjustment."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from lengthwise.statistics.outcome.crude_ratios import odds_ratio, risk_ratio
from lengthwise.statistics.outcome.exact_table import TableTest, table_test
from lengthwise.statistics.process.differences import newcombe_difference
from lengthwise.statistics.proportions import proportion
from lengthwise.statistics.results import Estimate

SMALLEST_DENOMINATOR = 10


@dataclass(frozen=True, slots=True)
class LevelRow:
    """One level against the reference.

    Attributes
    ----------
    level_name : str
    n, events : int
        Units and units with the event.
    share : Estimate
        Events / n, 0-1, Wilson interval.
    risk_difference, risk_ratio, odds_ratio : Estimate or None
        Level against reference (level - reference, level / reference); None for the
        reference itself.
    test : TableTest or None
        Of this level against the reference alone.
    unstable : bool
        True below the smallest denominator: counts stand, per cents are not to be read.
    """

    level_name: str
    n: int
    events: int
    share: Estimate
    risk_difference: Estimate | None
    risk_ratio: Estimate | None
    odds_ratio: Estimate | None
    test: TableTest | None
    unstable: bool
    reason: str


@dataclass(frozen=True, slots=True)
class CrudeTable:
    """All levels, and the test of all levels together."""

    rows: tuple[LevelRow, ...]
    reference: str
    test: TableTest
    n_used: int
    n_missing: int
    level: float
    method: str
    valid: bool
    reason: str

    def row(self, level_name: str) -> LevelRow:
        """Return the row of one level."""
        for row in self.rows:
            if row.level_name == level_name:
                return row
        raise ValueError(f"unknown level: {level_name}")


def crude_table(
    levels: Sequence[str],
    events: ArrayLike,
    sizes: ArrayLike,
    *,
    reference: str,
    smallest_denominator: int = SMALLEST_DENOMINATOR,
    n_missing: int = 0,
    level: float = 0.95,
) -> CrudeTable:
    """Compare each level with the reference, two-sided, without adjustment.

    Parameters
    ----------
    levels : sequence of str
        Names of the r levels; no direction is taken for granted.
    events, sizes : array of shape (r,)
        Counts of not-healed teeth and of teeth.
    reference : str
        One of `levels`.
    smallest_denominator : int
        A level with fewer units carries `unstable` and a reason.
    n_missing : int
        Units whose level or outcome is not known, printed beside the table.
    level : float
        Confidence level, 0-1.

    Returns
    -------
    CrudeTable
        `valid` is False where the outcome does not vary or only one level has units.

    Notes
    -----
    Units are taken as independent: teeth of one patient need `fit_gee`. Intervals: Wilson
    and Newcombe (10.1002/(SICI)1097-0258(19980430)17:8<873::AID-SIM779>3.0.CO;2-I), Katz,
    Woolf.
    """
    hits = np.asarray(events, dtype=np.int64)
    counts = np.asarray(sizes, dtype=np.int64)
    names = tuple(levels)
    _check(names, hits, counts, reference)
    at = names.index(reference)
    rows = tuple(
        _row(names, hits, counts, i, at, smallest_denominator, level) for i in range(len(names))
    )
    test = table_test(hits, counts)
    return CrudeTable(
        rows=rows,
        reference=reference,
        test=test,
        n_used=int(counts.sum()),
        n_missing=n_missing,
        level=level,
        method=f"crude comparison by level, {test.name}",
        valid=test.valid,
        reason=test.reason,
    )


def crude_table_from_rows(
    level_of_row: ArrayLike,
    outcome: ArrayLike,
    *,
    levels: Sequence[str],
    reference: str,
    smallest_denominator: int = SMALLEST_DENOMINATOR,
    level: float = 0.95,
) -> CrudeTable:
    """Count one row a unit and compare the levels; see `crude_table`.

    Rows whose level is not among `levels`, or whose outcome is missing, are counted as
    missing.
    """
    codes = pd.Index(levels).get_indexer(pd.Index(np.asarray(level_of_row, dtype=object)))
    event = np.asarray(outcome, dtype=float)
    known = (codes >= 0) & np.isfinite(event)
    sizes = np.bincount(codes[known], minlength=len(levels))
    hits = np.bincount(codes[known & (event == 1.0)], minlength=len(levels))
    return crude_table(
        levels,
        hits,
        sizes,
        reference=reference,
        smallest_denominator=smallest_denominator,
        n_missing=int(np.count_nonzero(~known)),
        level=level,
    )


def _row(
    names: tuple[str, ...],
    hits: NDArray[np.int64],
    counts: NDArray[np.int64],
    i: int,
    at: int,
    smallest: int,
    level: float,
) -> LevelRow:
    own, n = int(hits[i]), int(counts[i])
    base, base_n = int(hits[at]), int(counts[at])
    unstable = n < smallest
    note = f"n = {n}: unstable, read the counts only" if unstable else ""
    is_reference = i == at
    pair = np.array([i, at])
    return LevelRow(
        level_name=names[i],
        n=n,
        events=own,
        share=proportion(own, n, level=level),
        risk_difference=None
        if is_reference
        else newcombe_difference(own, n, base, base_n, level=level),
        risk_ratio=None if is_reference else risk_ratio(own, n, base, base_n, level=level),
        odds_ratio=None if is_reference else odds_ratio(own, n, base, base_n, level=level),
        test=None if is_reference else table_test(hits[pair], counts[pair]),
        unstable=unstable,
        reason=note,
    )


def _check(
    names: tuple[str, ...], hits: NDArray[np.int64], counts: NDArray[np.int64], reference: str
) -> None:
    if hits.shape != (len(names),) or counts.shape != hits.shape:
        raise ValueError("levels, events and sizes must have the same length")
    if len(set(names)) != len(names) or reference not in names:
        raise ValueError("levels must be distinct and hold the reference")
    if np.any(hits < 0) or np.any(hits > counts):
        raise ValueError("events must lie between 0 and the number of units")
