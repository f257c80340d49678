"""Binomial likelihood by unit, with the unit effect integrated out."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from lengthwise.statistics.process.control_chart import FloatArray
from lengthwise.statistics.process.funnel import IntArray

POINTS = 25
NODES, _WEIGHTS = special.roots_hermite(POINTS)
# log(w_k exp(x_k^2)), the weight of adaptive quadrature.
LOG_WEIGHTS = np.log(_WEIGHTS) + NODES**2
NEWTON_STEPS = 200


@dataclass(frozen=True, slots=True)
class UnitRows:
    """Rows sorted by unit; `starts` holds the first row of each unit."""

    events: FloatArray
    cases: FloatArray
    offset: FloatArray
    starts: IntArray
    member: IntArray
    units: tuple[str, ...]
    constant: float


@dataclass(frozen=True, slots=True)
class Posterior:
    """Each unit's effect given the data.

    Attributes
    ----------
    log_likelihood : float
        Of all units, the effects integrated out.
    mode, mode_error : ndarray of shape (n_units,)
    nodes, weights : ndarray of shape (n_units, 25)
        Quadrature points and posterior weights, which sum to 1 by unit.
    """

    log_likelihood: float
    mode: FloatArray
    mode_error: FloatArray
    nodes: FloatArray
    weights: FloatArray

    def average(self, function: Callable[[FloatArray], FloatArray]) -> FloatArray:
        """Return the posterior mean of a function of the effect, by unit."""
        return (self.weights * function(self.nodes)).sum(axis=1)


def unit_rows(
    events: IntArray, cases: IntArray, unit: ArrayLike, offset: ArrayLike | None
) -> tuple[UnitRows, int]:
    """Sort rows by unit; return them with the number of rows set aside.

    Raises
    ------
    ValueError
        When shapes differ.
    """
    code = np.asarray(unit).astype(str)
    shift = np.zeros(events.size) if offset is None else np.asarray(offset, dtype=float)
    if code.shape != events.shape or shift.shape != events.shape:
        raise ValueError("unit and offset need one entry for each row")
    kept = (cases > 0) & np.isfinite(shift)
    names, member = np.unique(code[kept], return_inverse=True)
    order = np.argsort(member, kind="stable")
    member = member[order].astype(np.int64)
    event, case = events[kept][order].astype(float), cases[kept][order].astype(float)
    starts = np.searchsorted(member, np.arange(names.size)).astype(np.int64)
    constant = special.gammaln(case + 1) - special.gammaln(event + 1)
    constant -= special.gammaln(case - event + 1)
    rows = UnitRows(
        event, case, shift[kept][order], starts, member, tuple(names.tolist()),
        float(constant.sum()),
    )  # fmt: skip
    return rows, int((~kept).sum())


def integrated(rows: UnitRows, mean: float, spread: float) -> Posterior:
    """Integrate the unit effects by adaptive Gauss-Hermite quadrature."""
    units = len(rows.units)
    if spread <= 0:
        none = np.zeros(units)
        value = float(_row_terms(rows, mean + rows.offset).sum()) + rows.constant
        return Posterior(value, none, none, none[:, None], np.ones((units, 1)))
    mode = _modes(rows, mean, spread)
    risk = special.expit(mean + rows.offset + mode[rows.member])
    curvature = np.add.reduceat(rows.cases * risk * (1 - risk), rows.starts) + spread**-2
    error = curvature**-0.5
    nodes = mode[:, None] + np.sqrt(2) * error[:, None] * NODES
    eta = (mean + rows.offset)[:, None] + nodes[rows.member]
    terms = rows.events[:, None] * eta - rows.cases[:, None] * np.logaddexp(0, eta)
    logs = np.add.reduceat(terms, rows.starts, axis=0)
    logs += LOG_WEIGHTS - nodes**2 / (2 * spread**2)
    logs += np.log(error[:, None] / (spread * np.sqrt(np.pi)))
    by_unit = special.logsumexp(logs, axis=1)
    weights = np.exp(logs - by_unit[:, None])
    return Posterior(float(by_unit.sum()) + rows.constant, mode, error, nodes, weights)


def _row_terms(rows: UnitRows, eta: FloatArray) -> FloatArray:
    return rows.events * eta - rows.cases * np.logaddexp(0, eta)


def _modes(rows: UnitRows, mean: float, spread: float) -> FloatArray:
    # The slope falls steadily, so each mode is kept in a bracket; a Newton step that leaves
    # it is replaced by the midpoint. Undamped Newton can leap for large spreads.
    reach = spread**2 * np.add.reduceat(rows.cases, rows.starts)
    low, high, mode = -reach, reach, np.zeros(reach.size)
    for _ in range(NEWTON_STEPS):
        risk = special.expit(mean + rows.offset + mode[rows.member])
        slope = np.add.reduceat(rows.events - rows.cases * risk, rows.starts)
        slope -= mode / spread**2
        bend = np.add.reduceat(rows.cases * risk * (1 - risk), rows.starts) + spread**-2
        low, high = np.where(slope > 0, mode, low), np.where(slope > 0, high, mode)
        moved = mode + slope / bend
        moved = np.where((moved <= low) | (moved >= high), (low + high) / 2, moved)
        done = np.abs(slope / bend).max() < 1e-13
        if done:
            break
        mode = moved
    return mode
