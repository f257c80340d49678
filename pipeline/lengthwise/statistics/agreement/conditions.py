"""How bias and spread differ between recorded conditions (A7).

Differences are associations: canals read wet may differ from dry ones in more than that.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from lengthwise.statistics.agreement.log_variance import log_variance_by_pattern
from lengthwise.statistics.agreement.pairs import complete_pairs
from lengthwise.statistics.clusters import (
    FloatArray,
    IntArray,
    cluster_codes,
    robust_least_squares,
)
from lengthwise.statistics.patterns import Design, joint_patterns
from lengthwise.statistics.results import NAN, Estimate, refused

MINIMUM_PER_LEVEL = 10


@dataclass(frozen=True, slots=True)
class ConditionLevel:
    """One level: its canals, patients, mean difference and SD, and contrasts to the reference.

    Contrasts are level minus reference in mm, and SD of the level over that of the
    reference; for the reference itself, and for levels with too few canals, they are
    refused with the reason.
    """

    level: str
    n_canals: int
    n_patients: int
    mean_difference_mm: float
    sd_mm: float
    bias_crude_mm: Estimate
    bias_adjusted_mm: Estimate
    sd_ratio_crude: Estimate
    sd_ratio_adjusted: Estimate


@dataclass(frozen=True, slots=True)
class ConditionEffects:
    """All levels of one condition, the reference first."""

    levels: tuple[ConditionLevel, ...]
    reference: str
    n_used: int
    n_missing: int


@dataclass(frozen=True, slots=True)
class TrendEffect:
    """Change of bias (mm) and of spread (ratio of SDs) per unit of a numeric condition."""

    bias_crude_mm: Estimate
    bias_adjusted_mm: Estimate
    sd_ratio_crude: Estimate
    sd_ratio_adjusted: Estimate


def condition_effects(
    method: ArrayLike,
    reference: ArrayLike,
    condition: ArrayLike,
    *,
    patient: ArrayLike,
    reference_level: str,
    covariates: pd.DataFrame | None = None,
    level: float = 0.95,
    minimum_per_level: int = MINIMUM_PER_LEVEL,
) -> ConditionEffects:
    """Return bias and spread by level of `condition` (n,), crude and adjusted.

    Rows with a missing length, condition or covariate are set aside. The mean model is least
    squares with CR2 errors by patient; the spread is a log-variance model with CR1 errors.
    Text covariates enter as levels, numeric ones as they are.
    """
    pairs = complete_pairs(method, reference)
    labels = pd.Series(condition).reset_index(drop=True)
    other = pd.DataFrame(index=labels.index) if covariates is None else covariates
    other = other.reset_index(drop=True)
    known = pairs.known & labels.notna().to_numpy() & other.notna().all(axis=1).to_numpy()
    codes, kinds = pd.factorize(labels[known], sort=True)
    names = _Names(codes, tuple(str(one) for one in kinds))
    difference = (np.asarray(method, float) - np.asarray(reference, float))[known]
    patients = cluster_codes(np.asarray(patient)[known])[0]
    sizes = names.sizes()
    tested = [
        one for one in sizes if one != reference_level and sizes[one] >= minimum_per_level
    ]
    usable = sizes.get(reference_level, 0) >= minimum_per_level
    data = _Data(difference, names, patients, _factors(other[known]), level)
    contrasts = _contrasts(data, reference_level, tested) if usable and tested else {}
    order = [reference_level, *sorted(one for one in sizes if one != reference_level)]
    rows = []
    for name in order:
        reason = _why_not(name, reference_level, sizes, minimum_per_level)
        rows.append(_row(data, name, contrasts.get(name), reason))
    missing = len(known) - int(known.sum())
    return ConditionEffects(tuple(rows), reference_level, int(known.sum()), missing)


@dataclass(frozen=True, slots=True)
class _Names:
    """The level of each row as a code, and what the codes mean."""

    codes: IntArray
    kinds: tuple[str, ...]

    def sizes(self) -> dict[str, int]:
        counts = np.bincount(self.codes, minlength=len(self.kinds)).tolist()
        return dict(zip(self.kinds, counts, strict=True))

    def are(self, name: str) -> NDArray[np.bool_]:
        """Return which rows (n,) have a level; none where it does not occur."""
        place = self.kinds.index(name) if name in self.kinds else -1
        return np.asarray(self.codes == place)


@dataclass(frozen=True, slots=True)
class _Data:
    difference: FloatArray
    names: _Names
    patients: IntArray
    covariates: list["_Factor"]
    level: float


def _why_not(name: str, reference: str, sizes: dict[str, int], minimum: int) -> str:
    if name == reference:
        return "this is the reference level"
    if sizes.get(reference, 0) < minimum:
        return f"the reference level has fewer than {minimum} canals: described, not tested"
    if sizes.get(name, 0) < minimum:
        return f"fewer than {minimum} canals: described, not tested"
    return ""


@dataclass(frozen=True, slots=True)
class _Factor:
    """A column as codes (n,), and what each code puts into the design (k, columns)."""

    codes: IntArray
    values: FloatArray

    def at(self, kept: NDArray[np.bool_]) -> "_Factor":
        return _Factor(self.codes[kept], self.values)


def _factors(frame: pd.DataFrame) -> list[_Factor]:
    """Return numbers as they are and text as 0/1 columns of its levels; constant ones not."""
    found = []
    for name in frame.columns:
        column = frame[name]
        if pd.api.types.is_numeric_dtype(column):
            found.append(_numbers(column.to_numpy(dtype=float)))
        else:
            codes, kinds = pd.factorize(column, sort=True)
            found.append(_Factor(codes, np.eye(len(kinds))[:, 1:]))
    return [one for one in found if len(one.values) > 1]


def _numbers(values: FloatArray) -> _Factor:
    codes, kinds = pd.factorize(values)
    return _Factor(codes, kinds[:, None])


def _design(factors: list[_Factor]) -> Design:
    """Return the intercept and the columns of the factors by pattern."""
    codes, first = joint_patterns([one.codes for one in factors])
    columns = [one.values[one.codes[first]] for one in factors]
    return Design(codes, np.concatenate([np.ones((len(first), 1)), *columns], axis=1))


Contrast = tuple[Estimate, Estimate, Estimate, Estimate]


def _contrasts(data: _Data, reference: str, tested: list[str]) -> dict[str, Contrast]:
    """Return bias crude and adjusted and SD ratio crude and adjusted for tested levels."""
    kept = np.any([data.names.are(one) for one in (reference, *tested)], axis=0)
    flags = np.array([[float(kind == one) for one in tested] for kind in data.names.kinds])
    condition = _Factor(data.names.codes[kept], flags)
    others = [one.at(kept) for one in data.covariates]
    designs = [_design([condition]), _design([condition, *others])]
    y, patients = data.difference[kept], data.patients[kept]
    wanted = range(1, len(tested) + 1)
    means = [robust_least_squares(one, y, patients, wanted=wanted) for one in designs]
    spreads = [log_variance_by_pattern(y, one, patient=patients) for one in designs]
    found = {}
    for position, name in enumerate(tested, start=1):
        bias = [
            fit.coefficient(position, level=data.level, name="bias contrast") for fit in means
        ]
        ratio = [fit.sd_ratio(position, level=data.level) for fit in spreads]
        found[name] = (bias[0], bias[1], ratio[0], ratio[1])
    return found


def _row(data: _Data, name: str, contrast: Contrast | None, reason: str) -> ConditionLevel:
    chosen = data.names.are(name)
    values = data.difference[chosen]
    n = len(values)
    if contrast is None:
        none = refused(reason, method="contrast to the reference", n_used=n, level=data.level)
        contrast = (none, none, none, none)
    patients = cluster_codes(data.patients[chosen])[1] if n else 0
    mean = float(values.mean()) if n else NAN
    sd = float(values.std(ddof=1)) if n > 1 else NAN
    return ConditionLevel(name, n, patients, mean, sd, *contrast)


def trend_effect(
    method: ArrayLike,
    reference: ArrayLike,
    value: ArrayLike,
    *,
    patient: ArrayLike,
    covariates: pd.DataFrame | None = None,
    level: float = 0.95,
    minimum_canals: int = MINIMUM_PER_LEVEL,
) -> TrendEffect:
    """Return how bias and spread change per unit of `value` (n,): a size, a time.

    Incomplete rows are set aside; models as in `condition_effects`.
    """
    pairs = complete_pairs(method, reference)
    number = np.asarray(value, dtype=float)
    other = pd.DataFrame(index=range(len(number))) if covariates is None else covariates
    other = other.reset_index(drop=True)
    known = pairs.known & np.isfinite(number) & other.notna().all(axis=1).to_numpy()
    y = (np.asarray(method, float) - np.asarray(reference, float))[known]
    patients = np.asarray(patient)[known]
    if len(y) < max(minimum_canals, 3):
        reason = f"fewer than {max(minimum_canals, 3)} canals: described, not tested"
        none = refused(reason, method="trend", n_used=len(y), level=level)
        return TrendEffect(none, none, none, none)
    trend = _numbers(number[known])
    designs = [_design([trend]), _design([trend, *_factors(other[known])])]
    bias = [
        robust_least_squares(one, y, patients, wanted=[1]).coefficient(
            1, level=level, name="trend"
        )
        for one in designs
    ]
    ratio = [
        log_variance_by_pattern(y, one, patient=patients).sd_ratio(1, level=level)
        for one in designs
    ]
    return TrendEffect(bias[0], bias[1], ratio[0], ratio[1])
