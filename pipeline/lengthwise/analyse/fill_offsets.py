"""How the ends of fillings lie along the canal: mean, spread, quartiles and a histogram, in mm."""

from dataclasses import replace

import numpy as np
import pandas as pd

from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.clusters import cluster_robust_least_squares
from lengthwise.statistics.results import NAN, Estimate, refused

NOT_ASSESSABLE = "not_assessable"
# Half millimetres about each step, so that a bar holds as many tenths as the next.
BAR_MM = 0.5
QUARTILES = {"lower_quartile": 0.25, "median": 0.5, "upper_quartile": 0.75}


def analyse_fill_offsets(
    rows: ResultRows, fills: pd.DataFrame, quarter: str, period: str, settings: Settings
) -> None:
    """Write the distribution of fill_offset_mm, for the quarter and for the whole period.

    Fillings whose level was read in words have no length: they are counted as missing.
    """
    levelled = fills[fills["level"] != NOT_ASSESSABLE]
    assessed = levelled[levelled["fill_offset_mm"].notna()]
    for covered, frame in {
        quarter: levelled[levelled["quarter"] == quarter],
        period: levelled,
    }.items():
        _add(rows, Topic("fill", "B1", covered), frame, settings)
    if len(assessed) >= settings.small_numbers.minimum_denominator:
        _draw(rows, assessed["fill_offset_mm"].to_numpy(dtype=float), settings)


def _add(rows: ResultRows, topic: Topic, frame: pd.DataFrame, settings: Settings) -> None:
    without = int(frame["fill_offset_mm"].isna().sum())
    frame = frame[frame["fill_offset_mm"].notna()]
    offset, least = frame["fill_offset_mm"], settings.small_numbers.minimum_denominator
    count = len(offset)
    if count < least:
        reason = f"fewer than {least} fillings"
        reason += f" in mm ({without} in words only)" if without else ""
        none = refused(
            f"{reason}: no distribution", method="mean by patient", n_used=count,
            n_missing=without,
        )  # fmt: skip
        rows.add(topic, "mean", "fill_offset", none, unit="mm")
        return
    fit = cluster_robust_least_squares(
        np.ones((count, 1)), offset.to_numpy(dtype=float), frame["patient_id"].to_numpy()
    )
    mean = replace(fit.coefficient(0, name="mean"), n_missing=without)
    rows.add(
        topic, "mean", "fill_offset", mean, unit="mm",
        n_clusters=frame["patient_id"].nunique(),
    )  # fmt: skip
    values = {name: offset.quantile(share) for name, share in QUARTILES.items()}
    for name, value in ({"sd": offset.std()} | values).items():
        plain = Estimate(float(value), NAN, NAN, 0.95, count, without, "of single fillings")
        rows.add(topic, name, "fill_offset", plain, unit="mm")


def _draw(rows: ResultRows, offset_mm: np.ndarray, settings: Settings) -> None:
    middle = np.round(offset_mm / BAR_MM) * BAR_MM
    places, counts = np.unique(middle + 0.0, return_counts=True)
    for place, count in zip(places, counts, strict=True):
        rows.point("fill_offsets", "", "fillings", float(place), float(count), n=int(count))
    for name, limit in zip(("lower", "upper"), settings.level_limits_mm, strict=True):
        rows.point("fill_offsets", "", "limit", limit, 0.0, label=name)
