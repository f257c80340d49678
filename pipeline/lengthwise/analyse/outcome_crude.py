"""C1: how often teeth of each level were not healed, without adjustment."""

from dataclasses import replace

import pandas as pd

from lengthwise.analyse.outcome_frame import REFERENCE
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.crude_table import (
    CrudeTable,
    LevelRow,
    crude_table_from_rows,
)
from lengthwise.statistics.outcome.exact_table import TableTest
from lengthwise.statistics.proportions import clustered_proportion_of_rows, proportion
from lengthwise.statistics.results import Estimate, refused

NAN = float("nan")
_UNITS = {
    "risk_difference": "risk_difference",
    "risk_ratio": "ratio",
    "odds_ratio": "odds_ratio",
}


def add_crude_table(
    rows: ResultRows, topic: Topic, table: CrudeTable, shares: dict[str, Estimate]
) -> None:
    """Write the rows of a crude table; a level of few teeth carries its warning.

    `shares` holds the levels whose teeth share patients, with the interval that allows for it.
    """
    for row in table.rows:
        rows.add(
            topic, "share_not_healed", row.level_name,
            _share(row, shares.get(row.level_name, row.share)), unit="proportion",
            numerator=row.events, denominator=row.n,
        )  # fmt: skip
        for measure, unit in _UNITS.items():
            contrast = getattr(row, measure)
            if contrast is not None:
                shown = _contrast(row, measure, contrast, table.row(REFERENCE))
                rows.add(
                    topic, measure, row.level_name, shown,
                    unit=unit, reference=REFERENCE, numerator=row.events, denominator=row.n,
                )  # fmt: skip
        if row.test is not None and row.n:
            _add_test(rows, topic, row.level_name, row.test, table)
    _add_test(rows, topic, "all levels", table.test, table)


def analyse_crude(
    rows: ResultRows, known: pd.DataFrame, topic: Topic, levels: tuple[str, ...],
    settings: Settings,
) -> None:  # fmt: skip
    """Write the crude table of the strict outcome, and the loose shares beside it."""
    table = crude_table_from_rows(
        known["level"].to_numpy(dtype=object), known["is_not_healed"].to_numpy(dtype=float),
        levels=levels, reference=REFERENCE,
        smallest_denominator=settings.small_numbers.minimum_denominator,
    )  # fmt: skip
    add_crude_table(rows, topic, table, shares_by_patient(known, levels, settings))
    if "is_not_healed_loose" not in known:
        return
    for level in levels:
        own = known[known["level"] == level]
        events = int(own["is_not_healed_loose"].astype(bool).sum())
        value = proportion(events, len(own))
        rows.add(
            topic, "share_not_healed_loose", level, value, unit="proportion",
            numerator=events, denominator=len(own),
        )  # fmt: skip


def _add_test(
    rows: ResultRows, topic: Topic, subject: str, test: TableTest, table: CrudeTable
) -> None:
    value = Estimate(
        test.p_value, NAN, NAN, table.level, table.n_used, table.n_missing,
        test.name, test.valid, test.reason,
    )  # fmt: skip
    rows.add(topic, "p_value", subject, value, unit="p_value", reference=REFERENCE)


def shares_by_patient(
    known: pd.DataFrame, levels: tuple[str, ...], settings: Settings
) -> dict[str, Estimate]:
    """Return the shares of levels in which a patient has several teeth, by patient."""
    found = {}
    for level in levels:
        own = known[known["level"] == level]
        if not own["patient_id"].duplicated().any():
            continue
        share = clustered_proportion_of_rows(
            own["is_not_healed"].to_numpy(dtype=float), own["patient_id"].to_numpy(),
            level=settings.confidence_level,
        ).wilson_icc  # fmt: skip
        if share.valid:
            found[level] = share
    return found


def _share(row: LevelRow, share: Estimate) -> Estimate:
    if not row.n:
        return _empty(row)
    if row.unstable:
        return refused(row.reason, method=row.share.method, n_used=row.n)
    return share


def _contrast(row: LevelRow, measure: str, value: Estimate, base: LevelRow) -> Estimate:
    """Return a contrast; of few teeth a ratio is flagged, and no points in 100 are given."""
    if not row.n:
        return _empty(row)
    words = row.reason
    if base.unstable and not words:
        words = f"n = {base.n} filled {base.level_name}: unstable, read the counts only"
    if words and measure == "risk_difference":
        return refused(words, method=value.method, n_used=value.n_used)
    return _noted(value, words)


def _noted(value: Estimate, note: str) -> Estimate:
    if not note:
        return value
    reason = "; ".join(text for text in (value.reason, note) if text)
    return replace(value, reason=reason)


def _empty(row: LevelRow) -> Estimate:
    return refused(
        f"no tooth filled {row.level_name} has a countable review", method=row.share.method
    )
