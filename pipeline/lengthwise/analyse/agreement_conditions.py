"""How far bias and spread of a method move with what was recorded (A7)."""

import math
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lengthwise.analyse.agreement_errors import SMALL_FILE_STEPS
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.agreement.conditions import (
    ConditionEffects,
    ConditionLevel,
    condition_effects,
    trend_effect,
)
from lengthwise.statistics.results import Estimate

CONFIRMED = "confirmed"


@dataclass(frozen=True, slots=True)
class Condition:
    """A recorded condition: its column, the words of true and false, the reference level.

    An empty reference level means the most frequent one.
    """

    name: str
    column: str
    words: tuple[str, str] = ("", "")
    reference: str = ""
    # Adjusted contrasts hold these constant; a clinician would stand for all of them.
    is_covariate: bool = True


CONDITIONS = (
    Condition("canal_state", "canal_state", reference="dry"),
    Condition(
        "metal_contact", "has_metal_contact", ("metal contact", "no metal contact"),
        "no metal contact",
    ),
    Condition("file_size", "is_small_file", ("small file", "fitting file"), "fitting file"),
    Condition("stage", "stage"),
    Condition("stability", "is_stable", ("stable", "unstable"), "stable"),
    Condition(
        "circuit", "is_circuit_checked", ("circuit checked", "circuit not checked"),
        "circuit checked",
    ),
    Condition("tooth_type", "tooth_type"),
    Condition("clinician", "clinician_id", is_covariate=False),
)  # fmt: skip


def _labels(readings: pd.DataFrame, condition: Condition) -> pd.Series:
    values = readings[condition.column]
    if not condition.words[0]:
        return values.astype("category")
    # Codes 0 and 1 of a yes or no, -1 where nothing was recorded.
    codes = values.fillna(False).astype(np.int8).where(values.notna(), -1)
    yes, no = condition.words
    return pd.Series(
        pd.Categorical.from_codes(codes.to_numpy(), [no, yes]), index=readings.index
    )


def labelled(readings: pd.DataFrame) -> pd.DataFrame:
    """Return one column of words per condition, missing where nothing was recorded."""
    small = readings["steps_under_apex"].ge(SMALL_FILE_STEPS)
    whole = readings.assign(is_small_file=small)
    return pd.DataFrame({one.name: _labels(whole, one) for one in CONDITIONS})


def analyse_conditions(
    rows: ResultRows, readings: pd.DataFrame, order: tuple[str, ...], period: str,
    settings: Settings,
) -> None:  # fmt: skip
    """Write, by method and condition, the shift of bias and the ratio of SDs (A7).

    Every reading is a row; patients are the clusters. Adjusted contrasts hold the other
    conditions constant that were recorded in two levels; readings without them are set aside.
    """
    topic = Topic("agreement", "A7", period)
    words = labelled(readings)
    for method in order:
        chosen = (readings["method"] == method).to_numpy()
        own, said = readings[chosen], words[chosen].reset_index(drop=True)
        varied = [one for one in CONDITIONS if _is_varied(said[one.name], settings)]
        for condition in varied:
            others = [
                one.name for one in varied if one.is_covariate and one.name != condition.name
            ]
            _add_condition(rows, topic, method, own, said, condition, others, settings)
        _add_time(rows, topic, method, own, said[[v.name for v in varied if v.is_covariate]])


def _is_varied(labels: pd.Series, settings: Settings) -> bool:
    """Return whether two levels were recorded, in enough readings to be worth a table."""
    return bool((labels.value_counts() >= settings.small_numbers.minimum_level).sum() >= 2)


def _add_condition(
    rows: ResultRows, topic: Topic, method: str, own: pd.DataFrame, said: pd.DataFrame,
    condition: Condition, others: list[str], settings: Settings,
) -> None:  # fmt: skip
    labels = said[condition.name]
    found = condition_effects(
        own["length_mm"], own["confirmed_length_mm"], labels,
        patient=own["patient_id"].to_numpy(),
        reference_level=condition.reference or str(labels.value_counts().index[0]),
        covariates=said[others] if others else None,
        minimum_per_level=settings.small_numbers.minimum_level,
    )  # fmt: skip
    for level in found.levels:
        if level.n_canals:
            _add_level(rows, topic, method, condition.name, level, found)


def _add_level(
    rows: ResultRows, topic: Topic, method: str, name: str, level: ConditionLevel,
    found: ConditionEffects,
) -> None:  # fmt: skip
    """Write one level; every row says how many readings were set aside for a blank."""
    n = level.n_canals
    mean, sd = (
        Estimate(value, math.nan, math.nan, 0.95, n, 0, "description")
        for value in (level.mean_difference_mm, level.sd_mm)
    )
    for measure, value, unit in (
        ("level_bias", mean, "mm"),
        ("level_sd", sd, "mm"),
        ("bias_shift_crude", level.bias_crude_mm, "mm"),
        ("bias_shift_adjusted", level.bias_adjusted_mm, "mm"),
        ("sd_ratio_crude", level.sd_ratio_crude, "ratio"),
        ("sd_ratio_adjusted", level.sd_ratio_adjusted, "ratio"),
    ):
        if measure == "level_sd" and n < 2:
            continue
        rows.add(
            topic, measure, method, replace(value, n_missing=found.n_missing), unit=unit,
            reference=CONFIRMED, stratum=(name, level.level), numerator=n,
            denominator=found.n_used, n_clusters=level.n_patients,
        )  # fmt: skip


def _years(months: pd.Series) -> pd.Series:
    """Return months written like 2026-03 as years and a fraction, each month read once."""
    known = months.dropna().unique()
    year_of = {text: int(text[:4]) + int(text[5:7]) / 12 for text in known}
    return months.map(year_of).astype(float)


def _add_time(
    rows: ResultRows, topic: Topic, method: str, own: pd.DataFrame, covariates: pd.DataFrame
) -> None:
    """Write the change of bias and spread per year of calendar time."""
    # Centred: a year of four digits would leave intercept and slope all but inseparable.
    time = _years(own["month"])
    found = trend_effect(
        own["length_mm"], own["confirmed_length_mm"], (time - time.mean()).to_numpy(),
        patient=own["patient_id"].to_numpy(), covariates=covariates,
    )  # fmt: skip
    for measure, value, unit in (
        ("bias_shift_crude", found.bias_crude_mm, "mm per year"),
        ("bias_shift_adjusted", found.bias_adjusted_mm, "mm per year"),
        ("sd_ratio_crude", found.sd_ratio_crude, "ratio per year"),
        ("sd_ratio_adjusted", found.sd_ratio_adjusted, "ratio per year"),
    ):
        rows.add(
            topic, measure, method, value, unit=unit, reference=CONFIRMED,
            stratum=("calendar_time", "per year"), numerator=value.n_used,
            denominator=value.n_used,
        )  # fmt: skip
