"""Variance components of canals in teeth in patients, in closed form.

Means of means, from the bottom up: the reading, the canal, the tooth, the patient. Each step
gives a mean square whose expectation is a known sum of components, also when the numbers of
canals and teeth differ. All that is needed are sums by patient.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.clusters import FloatArray, IntArray, nested_codes

Level = tuple[str, IntArray, int]


@dataclass(frozen=True, slots=True)
class NestedComponents:
    """Variance components, outermost first; `names` ends with "residual".

    `raw_variances` are as estimated and may be negative; `variances` have negatives at 0 and
    `negative` says which. `total_variance` is the sum of `raw_variances`. `mean` is the estimate
    of the overall mean that belongs to the method, with its standard error.
    """

    names: tuple[str, ...]
    variances: FloatArray
    raw_variances: FloatArray
    negative: tuple[bool, ...]
    total_variance: float
    mean: float
    standard_error: float
    log_likelihood: float
    n_groups: tuple[int, ...]
    n_used: int
    method: str
    valid: bool
    reason: str


@dataclass(frozen=True, slots=True)
class PatientSums:
    """Sums by patient from which every closed-form estimate follows.

    Columns: 1, number of rows, sum of rows, patient mean, its square, then the coefficients
    of the patient mean's variance, then for each inner step its sum of squares, degrees of
    freedom and coefficients.
    """

    sums: FloatArray
    names: tuple[str, ...]
    n_groups: tuple[int, ...]
    centre: float


@dataclass(frozen=True, slots=True)
class NestedRows:
    """Values (n,) with their patients (n,) and the levels that the rows can tell apart.

    `work` is None where every patient has one row.
    """

    values: FloatArray
    patient: IntArray
    n_patients: int
    kept: list[Level]
    work: PatientSums | None


def nested_rows(values: FloatArray, levels: dict[str, ArrayLike]) -> NestedRows:
    """Return complete rows by level, outermost (the patient) first, with sums by patient."""
    codes = nested_codes(*levels.values())
    kept = separable_levels(dict(zip(levels, codes, strict=True)), len(values))
    patient, count = codes[0]
    work = patient_sums(values, kept) if kept and kept[0][2] > 1 else None
    return NestedRows(values, patient, count, kept, work)


def separable_levels(levels: dict[str, tuple[IntArray, int]], n_rows: int) -> list[Level]:
    """Return the levels that these rows can tell apart, outermost first.

    `levels` holds the codes of each level and how many there are. A level with as many groups
    as the level outside it, or as there are rows, adds nothing of its own: its part is held
    by the component that stays.
    """
    kept: list[Level] = []
    for name, (code, count) in levels.items():
        if count < n_rows and (not kept or count > kept[-1][2]):
            kept.append((name, code, count))
    return kept


def patient_sums(values: FloatArray, levels: list[Level]) -> PatientSums:
    """Return the sums by outermost group of `values` (n,) for `levels` (at least one)."""
    n_components = len(levels) + 1
    outer, n_outer = levels[0][1], levels[0][2]
    centre = float(values.mean())
    current = values - centre
    coefficients = np.zeros((len(values), n_components))
    coefficients[:, -1] = 1.0
    place = outer
    steps: list[FloatArray] = []
    for position in range(len(levels) - 1, -1, -1):
        code, count = _parents(levels, position, place, current)
        current, coefficients, step = _step(current, coefficients, code, count)
        place = _first(outer, levels[position][1], count)
        steps.append(_gather(step, place, n_outer))
        coefficients[:, position] += 1.0
    rows = np.bincount(outer, minlength=n_outer).astype(float)
    total = np.bincount(outer, weights=values - centre, minlength=n_outer)
    top = [np.ones(n_outer), rows, total, current, current**2]
    sums = np.column_stack([*top, coefficients, *reversed(steps)])
    names = (*(name for name, _, _ in levels), "residual")
    return PatientSums(sums, names, tuple(count for _, _, count in levels), centre)


def _parents(
    levels: list[Level], position: int, place: IntArray, current: FloatArray
) -> tuple[IntArray, int]:
    """Return for each present item the code of its group at `position`."""
    code, count = levels[position][1], levels[position][2]
    if position == len(levels) - 1:
        return code, count
    inner, n_inner = levels[position + 1][1], levels[position + 1][2]
    return _first(code, inner, n_inner), count


def _first(outer: IntArray, inner: IntArray, n_inner: int) -> IntArray:
    """Return the outer code of each inner group."""
    found = np.empty(n_inner, dtype=np.int64)
    found[inner] = outer
    return found


def _step(
    values: FloatArray, coefficients: FloatArray, code: IntArray, count: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return group means, their variance coefficients, and (SS, df, coefficients) by group."""
    sizes = np.bincount(code, minlength=count).astype(float)
    means = np.bincount(code, weights=values, minlength=count) / sizes
    squares = np.bincount(code, weights=(values - means[code]) ** 2, minlength=count)
    columns = [np.bincount(code, weights=one, minlength=count) for one in coefficients.T]
    summed = np.column_stack(columns)
    expected = summed * (1 - 1 / sizes)[:, None]
    step = np.column_stack([squares, sizes - 1, expected])
    return means, summed / sizes[:, None] ** 2, step


def _gather(step: FloatArray, place: IntArray, n_outer: int) -> FloatArray:
    columns = [np.bincount(place, weights=one, minlength=n_outer) for one in step.T]
    return np.column_stack(columns)


@dataclass(frozen=True, slots=True)
class MeanSquares:
    """Mean squares (..., K), their degrees of freedom and expected coefficients (..., K, K).

    Row s of `coefficients` holds what each component adds to mean square s, outermost first.
    """

    mean_squares: FloatArray
    freedom: FloatArray
    coefficients: FloatArray
    patient_mean: FloatArray
    row_mean: FloatArray


def mean_squares_of(sums: FloatArray, n_components: int) -> MeanSquares:
    """Return the mean squares from sums (..., q) over any leading shape of resamples."""
    k = n_components
    count, rows, total, mean, square = (sums[..., i] for i in range(5))
    start = 5 + k
    inner = sums[..., start:].reshape(*sums.shape[:-1], k - 1, k + 2)
    # The spread between patients counts each patient's mean once.
    between = np.maximum(square - mean**2 / count, 0.0)
    freedom = np.concatenate([(count - 1)[..., None], inner[..., 1]], axis=-1)
    squares = np.concatenate([between[..., None], inner[..., 0]], axis=-1)
    expected_top = sums[..., 5:start] * ((count - 1) / count)[..., None]
    expected = np.concatenate([expected_top[..., None, :], inner[..., 2:]], axis=-2)
    safe = np.where(freedom > 0, freedom, 1.0)
    coefficients = expected / safe[..., None]
    # A resample without two canals in any tooth says nothing about that component.
    empty = freedom <= 0
    coefficients = np.where(empty[..., None], np.eye(k), coefficients)
    return MeanSquares(squares / safe, freedom, coefficients, mean / count, total / rows)


def component_values(found: MeanSquares) -> FloatArray:
    """Return the components (..., K), not yet cut at 0."""
    solved = np.linalg.solve(found.coefficients, found.mean_squares[..., None])
    return np.asarray(solved[..., 0], dtype=float)


def total_weights(found: MeanSquares) -> FloatArray:
    """Return w (K,) with total variance = sum(w * mean squares)."""
    ones = np.ones(len(found.mean_squares))
    return np.asarray(np.linalg.solve(found.coefficients.T, ones), dtype=float)


def nested_components(values: ArrayLike, levels: dict[str, ArrayLike]) -> NestedComponents:
    """Return closed-form components of `values` (n,) for `levels`, outermost first.

    Rows must be complete. Unbiased for any numbers of teeth, canals and readings; equal to
    REML when those numbers are equal and no component is negative. Source: Burdick RK,
    Graybill FA. Confidence Intervals on Variance Components. Dekker 1992 (means of means).
    """
    return components_of(nested_rows(np.asarray(values, dtype=float), levels))


def components_of(rows: NestedRows) -> NestedComponents:
    """Return `nested_components` of rows that are already coded."""
    n, work = len(rows.values), rows.work
    method = "closed form, means of means"
    if n < 2 or rows.n_patients < 2:
        return refused_components("fewer than two patients", method, n)
    if work is None:
        return _independent(rows.values, method)
    found = mean_squares_of(work.sums.sum(axis=0), len(work.names))
    raw = component_values(found)
    error = np.sqrt(found.mean_squares[0] / rows.kept[0][2])
    mean = float(found.patient_mean) + work.centre
    return _components(work, raw, mean, float(error), n, method)


def _components(
    work: PatientSums, raw: FloatArray, mean: float, error: float, n: int, method: str
) -> NestedComponents:
    negative = tuple(bool(one < 0) for one in raw)
    below = [name for name, flag in zip(work.names, negative, strict=True) if flag]
    reason = f"estimated below 0 and set to 0: {', '.join(below)}" if below else ""
    cut = np.maximum(raw, 0.0)
    # Cutting a component first would push the total up, and the limits with it.
    total = max(float(raw.sum()), 0.0)
    return NestedComponents(
        work.names,
        cut,
        raw,
        negative,
        total,
        mean,
        error,
        np.nan,
        work.n_groups,
        n,
        method,
        True,
        reason,
    )


def _independent(array: FloatArray, method: str) -> NestedComponents:
    variance = np.array([array.var(ddof=1)])
    error = float(np.sqrt(variance[0] / len(array)))
    return NestedComponents(
        ("residual",),
        variance,
        variance,
        (False,),
        float(variance[0]),
        float(array.mean()),
        error,
        np.nan,
        (),
        len(array),
        method,
        True,
        "every patient has one row: the spread within patients is part of the residual",
    )


def refused_components(reason: str, method: str, n_used: int) -> NestedComponents:
    """Return the result that says why there are no components."""
    nothing = np.array([np.nan])
    return NestedComponents(
        ("residual",),
        nothing,
        nothing,
        (False,),
        np.nan,
        np.nan,
        np.nan,
        np.nan,
        (),
        n_used,
        method,
        False,
        reason,
    )
