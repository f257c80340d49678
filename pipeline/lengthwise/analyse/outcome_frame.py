"""The rows and columns that every outcome analysis shares."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from lengthwise.settings import Settings
from lengthwise.statistics.outcome.model_plan import CovariateGroup

REFERENCE = "within"
LEVELS = ("within", "flush", "short", "beyond")
# The order in which covariates are kept when events are few.
COVARIATES = (
    "lesion",
    "molar",
    "retreatment",
    "months_from_treatment",
    "restoration_not_adequate",
)


@dataclass(frozen=True, slots=True)
class Columns:
    """The model's columns for one set of teeth, in row order.

    Attributes
    ----------
    levels : tuple of str
        Levels with teeth, the reference first.
    exposure, covariates : array of shape (n, e), (n, q)
    names : tuple of str
        Of the covariates that vary among the complete rows.
    constant : tuple of str
        Covariates set aside as they do not vary, or are not recorded.
    """

    outcome: np.ndarray
    patient: np.ndarray
    level: np.ndarray
    levels: tuple[str, ...]
    exposure: np.ndarray
    covariates: np.ndarray
    names: tuple[str, ...]
    constant: tuple[str, ...]

    @property
    def contrasts(self) -> tuple[str, ...]:
        """Return the levels other than the reference."""
        return self.levels[1:]

    @property
    def groups(self) -> list[CovariateGroup]:
        """Return the covariates one by one, in the declared order."""
        return [CovariateGroup(name, (i,)) for i, name in enumerate(self.names)]

    @property
    def aside(self) -> str:
        """Return the words for covariates that do not vary."""
        if not self.constant:
            return ""
        return f"left out as they do not vary here: {', '.join(self.constant)}"


def expected_levels(settings: Settings) -> tuple[str, ...]:
    """Return the levels of the preset; `flush` exists only where within ends below 0 mm."""
    has_flush = settings.level_limits_mm[1] < 0
    return tuple(name for name in LEVELS if name != "flush" or has_flush)


def known_outcomes(outcomes: pd.DataFrame) -> pd.DataFrame:
    """Return the teeth whose level and strict outcome are both known."""
    known = outcomes[outcomes["is_not_healed"].notna() & outcomes["level"].isin(LEVELS)]
    return known.assign(is_not_healed=known["is_not_healed"].astype(bool))


def covariate_columns(frame: pd.DataFrame) -> pd.DataFrame:
    """Return every case-mix column as floats, missing where it was not recorded."""
    columns = {
        "lesion": _number(frame["has_lesion"]),
        "molar": _flag(frame["tooth_type"], "molar"),
        "retreatment": _flag(frame["treatment_type"], "retreatment"),
        "months_from_treatment": _number(frame["months_from_treatment"]) - 12,
        "restoration_not_adequate": 1 - _number(frame["is_restoration_adequate"]),
    }
    return pd.DataFrame({name: columns[name] for name in COVARIATES}, index=frame.index)


def exposed_to(frame: pd.DataFrame, level: str) -> np.ndarray:
    """Return 1 for the level, 0 for the reference, NaN for any other."""
    names = frame["level"].to_numpy(dtype=object)
    return np.select([names == level, names == REFERENCE], [1.0, 0.0], np.nan)


def worst_offset_mm(frame: pd.DataFrame) -> np.ndarray:
    """Return the offset of the canal that gave the tooth its level: beyond before short."""
    highest = _number(frame["highest_offset_mm"]).to_numpy()
    lowest = _number(frame["lowest_offset_mm"]).to_numpy()
    return np.where(highest > 0, highest, lowest)


def model_columns(frame: pd.DataFrame) -> Columns:
    """Return the columns of the models for teeth of known level and outcome."""
    level = frame["level"].to_numpy(dtype=object)
    present = tuple(name for name in LEVELS if (level == name).any())
    contrasts = [name for name in present if name != REFERENCE]
    exposure = np.array([(level == name).astype(float) for name in contrasts]).T
    table, constant = _varying(covariate_columns(frame))
    return Columns(
        outcome=frame["is_not_healed"].to_numpy(dtype=float),
        patient=frame["patient_id"].to_numpy(),
        level=level,
        levels=(REFERENCE, *contrasts),
        exposure=exposure.reshape(len(frame), len(contrasts)),
        covariates=table.to_numpy(dtype=float),
        names=tuple(table.columns),
        constant=constant,
    )


def _varying(table: pd.DataFrame) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Drop columns that do not vary among complete rows, one after the other."""
    constant: list[str] = []
    kept = table.loc[:, table.nunique() > 1]
    constant += [name for name in table.columns if name not in kept.columns]
    while len(kept.columns):
        flat = [name for name in kept.columns if kept.dropna()[name].nunique() < 2]
        if not flat:
            break
        # The one with most values missing empties the others, so it leaves first.
        leaving = max(flat, key=lambda name: int(kept[name].isna().sum()))
        constant.append(leaving)
        kept = kept.drop(columns=leaving)
    return kept, tuple(constant)


def _number(values: Any) -> pd.Series:
    return pd.Series(
        pd.to_numeric(values.astype("Float64"), errors="coerce").to_numpy(
            dtype=float, na_value=np.nan
        ),
        index=values.index,
    )


def _flag(values: pd.Series, wanted: str) -> pd.Series:
    hit = (values == wanted).astype("Float64")
    return _number(hit.where(values.notna()))
