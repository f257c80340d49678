"""Restricted maximum likelihood for nested components without forming a matrix.

For one group with covariance V = blockdiag(V_i) + v J the quantities 1'V^-1 1, 1'V^-1 y,
y'V^-1 y and log|V| follow from those of its parts. The recursion runs over all teeth, then
over all patients, as array operations; so does its derivative.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize

from lengthwise.statistics.agreement.nested import (
    Level,
    NestedComponents,
    components_of,
    nested_rows,
    refused_components,
)
from lengthwise.statistics.clusters import FloatArray, IntArray

METHOD = "REML"


@dataclass(frozen=True, slots=True)
class _Bottom:
    """Sizes, sums and squares of the innermost groups, and each level's parent codes."""

    size: FloatArray
    total: FloatArray
    square: float
    parents: tuple[IntArray, ...]
    counts: tuple[int, ...]
    n_rows: int


def _bottom(values: FloatArray, levels: list[Level]) -> _Bottom:
    _, code, count = levels[-1]
    size = np.bincount(code, minlength=count).astype(float)
    total = np.bincount(code, weights=values, minlength=count).astype(float)
    parents, inner, n_inner = [], code, count
    for _, outer, n_outer in reversed(levels[:-1]):
        link = np.empty(n_inner, dtype=np.int64)
        link[inner] = outer
        parents.append(link)
        inner, n_inner = outer, n_outer
    parents.append(np.zeros(n_inner, dtype=np.int64))
    counts = (*(count for _, _, count in reversed(levels[:-1])), 1)
    return _Bottom(size, total, float(values @ values), tuple(parents), counts, len(values))


def _deviance(ratios: FloatArray, bottom: _Bottom) -> tuple[float, FloatArray, float, float]:
    """Return -2 log restricted likelihood, its gradient, residual variance and 1'V^-1 1.

    `ratios` are variances over the residual variance, innermost first; the residual variance
    is profiled out, so V below is in its unit.
    """
    k = len(ratios)
    a, b, q = bottom.size, bottom.total, bottom.square
    da, db, dq = np.zeros((k, len(a))), np.zeros((k, len(a))), np.zeros(k)
    log_determinant, dlog = 0.0, np.zeros(k)
    for i, ratio in enumerate(ratios):
        d = 1.0 + ratio * a
        log_determinant += float(np.log(d).sum())
        dlog += ratio * (da / d).sum(axis=1)
        dlog[i] += float((a / d).sum())
        q -= ratio * float((b**2 / d).sum())
        dq -= ratio * ((2 * b * db) / d - ratio * b**2 * da / d**2).sum(axis=1)
        dq[i] -= float((b**2 / d**2).sum())
        db = db / d - ratio * b * da / d**2
        db[i] -= a * b / d**2
        da = da / d**2
        da[i] -= a**2 / d**2
        a, b = a / d, b / d
        link, count = bottom.parents[i], bottom.counts[i]
        a = np.bincount(link, weights=a, minlength=count).astype(float)
        b = np.bincount(link, weights=b, minlength=count).astype(float)
        da = np.stack([np.bincount(link, weights=one, minlength=count) for one in da])
        db = np.stack([np.bincount(link, weights=one, minlength=count) for one in db])
    top, mean = float(a[0]), float(b[0] / a[0])
    free = bottom.n_rows - 1
    rest = q - top * mean**2
    slope = dq - 2 * mean * db[:, 0] + mean**2 * da[:, 0]
    value = free * (np.log(2 * np.pi * rest / free) + 1) + log_determinant + np.log(top)
    gradient = free * slope / rest + dlog + da[:, 0] / top
    return float(value), gradient, rest / free, top


def _maximise(start: FloatArray, bottom: _Bottom) -> FloatArray:
    """Return the ratios at the maximum: bounded quasi-Newton, then Newton inside."""
    found = optimize.minimize(
        lambda r: _deviance(r, bottom)[:2],
        start,
        jac=True,
        method="L-BFGS-B",
        bounds=[(0.0, None)] * len(start),
        options={"ftol": 1e-14, "gtol": 1e-9, "maxiter": 200},
    )
    ratios: FloatArray = np.asarray(found.x)
    for _ in range(12):
        gradient = _deviance(ratios, bottom)[1]
        inside = (ratios > 1e-9) | (gradient < 0)
        if not inside.any():
            break
        step = np.zeros(len(ratios))
        hessian = _hessian(ratios, bottom)[np.ix_(inside, inside)]
        if np.any(np.linalg.eigvalsh(hessian) <= 0):
            break
        step[inside] = np.linalg.solve(hessian, gradient[inside])
        ratios = np.maximum(ratios - step, 0.0)
        if np.max(np.abs(step)) <= 1e-11 * (1 + np.max(ratios)):
            break
    return ratios


def _hessian(ratios: FloatArray, bottom: _Bottom) -> FloatArray:
    steps = 1e-5 * (ratios + 1e-3)
    columns = []
    for i, step in enumerate(steps):
        move = np.zeros(len(ratios))
        move[i] = step
        low = np.maximum(ratios - move, 0.0)
        high = ratios + move
        change = _deviance(high, bottom)[1] - _deviance(low, bottom)[1]
        columns.append(change / (high[i] - low[i]))
    matrix = np.column_stack(columns)
    return (matrix + matrix.T) / 2


def nested_components_reml(values: ArrayLike, levels: dict[str, ArrayLike]) -> NestedComponents:
    """Return REML components of `values` (n,) for `levels`, outermost first.

    Rows must be complete; random parts are taken as normal. `mean` is the generalised least
    squares mean, in which a patient with many canals has less weight per canal. A component
    at its bound of 0 is flagged in `negative`. Source: Patterson HD, Thompson R. Biometrika
    1971;58:545-554, doi:10.1093/biomet/58.3.545.
    """
    array = np.asarray(values, dtype=float)
    rows = nested_rows(array, levels)
    simple, kept = components_of(rows), rows.kept
    if not simple.valid or not kept:
        return simple
    if simple.variances[-1] <= 1e-14 * max(simple.total_variance, 1e-300):
        reason = "no variation within the innermost group, so REML has no maximum"
        return refused_components(reason, METHOD, len(array))
    # Centring keeps y'V^-1 y free of cancellation for lengths near 20 mm.
    centre = float(array.mean())
    bottom = _bottom(array - centre, kept)
    start = np.maximum(simple.variances[:-1] / simple.variances[-1], 0.05)[::-1]
    ratios = _maximise(start, bottom)
    value, _, residual, top = _deviance(ratios, bottom)
    variances = np.append(ratios[::-1], 1.0) * residual
    at_zero = tuple(bool(one <= 1e-9 * residual) for one in variances)
    names = simple.names
    below = [name for name, flag in zip(names, at_zero, strict=True) if flag]
    return NestedComponents(
        names,
        variances,
        variances,
        at_zero,
        float(variances.sum()),
        centre + _mean(ratios, bottom),
        float(np.sqrt(residual / top)),
        -value / 2,
        simple.n_groups,
        len(array),
        METHOD,
        True,
        f"at the bound of 0: {', '.join(below)}" if below else "",
    )


def _mean(ratios: FloatArray, bottom: _Bottom) -> float:
    a, b = bottom.size, bottom.total
    for ratio, link, count in zip(ratios, bottom.parents, bottom.counts, strict=True):
        d = 1.0 + ratio * a
        a = np.bincount(link, weights=a / d, minlength=count).astype(float)
        b = np.bincount(link, weights=b / d, minlength=count).astype(float)
    return float(b[0] / a[0])
