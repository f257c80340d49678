"""Where fillings end: by month, quarter, clinician, tooth type, canal and more."""

import numpy as np
import pandas as pd

from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import refused

LEVELS = ("within", "flush", "short", "beyond")
NOT_ASSESSABLE = "not_assessable"
_STRATA = {
    # kind: column
    "quarter": "quarter",
    "month": "month",
    "clinician": "clinician_id",
    "tooth_type": "tooth_type",
    "canal": "canal",
    "site": "site_id",
    "treatment_type": "treatment_type",
}
# Where the stratum itself says the time that its numbers cover.
_TIMES = ("quarter", "month")


def _share(frame: pd.DataFrame, is_hit: np.ndarray, settings: Settings):  # type: ignore[no-untyped-def]
    found = clustered_proportion_of_rows(is_hit, frame["patient_id"].to_numpy())
    value = found.wilson_icc if found.wilson_icc.valid else found.naive
    least = settings.small_numbers.minimum_denominator
    if value.n_used < least:
        value = refused(
            f"fewer than {least} fillings: counts only", method=value.method,
            n_used=value.n_used, n_missing=value.n_missing,
        )  # fmt: skip
    return value, found.n_clusters


def _add_levels(
    rows: ResultRows, topic: Topic, frame: pd.DataFrame, stratum: tuple[str, str],
    settings: Settings,
) -> None:  # fmt: skip
    assessed = frame[frame["level"] != NOT_ASSESSABLE]
    for level in LEVELS:
        if level == "flush" and settings.preset != "0.5-2":
            continue
        hit = (assessed["level"] == level).to_numpy(dtype=float)
        value, clusters = _share(assessed, hit, settings)
        target = _target(settings) if level == "within" else None
        rows.add(
            topic, "share", level, value, unit="proportion", stratum=stratum,
            numerator=int(hit.sum()), denominator=len(assessed), n_clusters=clusters,
            target=target,
        )  # fmt: skip
        if stratum[0] == "quarter":
            rows.point(
                "fill_by_quarter", "", level, len(rows.points),
                value.estimate if value.valid else float("nan"), label=stratum[1],
                lower=value.lower, upper=value.upper, n=len(assessed),
            )  # fmt: skip
    hidden = (frame["level"] == NOT_ASSESSABLE).to_numpy(dtype=float)
    value, clusters = _share(frame, hidden, settings)
    rows.add(
        topic,
        "share",
        NOT_ASSESSABLE,
        value,
        unit="proportion",
        stratum=stratum,
        numerator=int(hidden.sum()),
        denominator=len(frame),
        n_clusters=clusters,
    )


def _target(settings: Settings) -> float | None:
    for item in settings.criteria:
        if item.get("id") == "fill_within":
            return item.get("target")
    return None


def analyse_fill_levels(
    rows: ResultRows, fills: pd.DataFrame, quarter: str, period: str, settings: Settings
) -> None:
    """Write the share at each level: this quarter, all quarters, and by stratum."""
    if fills.empty:
        return
    now = fills[fills["quarter"] == quarter]
    _add_levels(rows, Topic("fill", "B1", quarter), now, ("", ""), settings)
    if period != quarter:  # in a practice's first quarter both are the same
        _add_levels(rows, Topic("fill", "B1", period), fills, ("", ""), settings)
    for kind, column in _STRATA.items():
        for value in sorted(fills[column].dropna().unique()):
            part = fills[fills[column] == value]
            covered = str(value) if kind in _TIMES else period
            _add_levels(rows, Topic("fill", "B1", covered), part, (kind, str(value)), settings)
    for mark in ("is_core_beyond", "is_sealer_beyond", "has_voids", "is_taper_consistent"):
        known = now[(now["level"] != NOT_ASSESSABLE) & now[mark].notna()]
        hit = known[mark].to_numpy(dtype=float)
        value, clusters = _share(known, hit, settings)
        rows.add(
            Topic("fill", "B1", quarter), "share", mark.partition("_")[2], value,
            unit="proportion", numerator=int(hit.sum()), denominator=len(known),
            n_clusters=clusters,
        )  # fmt: skip
