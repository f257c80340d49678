"""Chained-equation imputation of missing covariates."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.arrays import Array, Flags
from lengthwise.statistics.outcome.imputation_draws import draw_binary, draw_matched

KINDS = ("continuous", "binary", "ordered")
FEWEST_KNOWN = 10


@dataclass(frozen=True, slots=True, eq=False)
class ImputedCopies:
    """Completed copies of a table of covariates.

    Attributes
    ----------
    names : tuple of str
        Names of the columns.
    copies : array of shape (m, n, q)
        Empty where `valid` is False.
    missing_share : tuple of float
        Share missing in each column before, 0-1.
    seed : int
    """

    names: tuple[str, ...]
    copies: Array
    missing_share: tuple[float, ...]
    seed: int
    n_rounds: int
    method: str
    valid: bool
    reason: str


def impute_chained(
    columns: Mapping[str, ArrayLike],
    kinds: Mapping[str, str],
    *,
    complete_columns: ArrayLike | None = None,
    n_copies: int = 20,
    n_rounds: int = 10,
    seed: int,
) -> ImputedCopies:
    """Fill missing values of each column from all others, round after round.

    Parameters
    ----------
    columns : mapping of str to array of shape (n,)
        Covariates with NaN where missing.
    kinds : mapping of str to str
        "continuous" or "ordered" (predictive mean matching, five donors: only values that
        were seen) or "binary" (draw from a logistic model).
    complete_columns : array of shape (n, c), optional
        Predictors without missing values: the outcome and the exposure belong here, else
        the association is diluted.
    n_copies, n_rounds : int
        Copies m, and rounds before each is kept.
    seed : int
        The same seed gives the same copies.

    Returns
    -------
    ImputedCopies
        Not valid where a column has too few known values.

    Notes
    -----
    Missing at random given the columns used. Sources: van Buuren & Groothuis-Oudshoorn
    2011, 10.18637/jss.v045.i03; White, Royston & Wood 2011, 10.1002/sim.4067.
    """
    names = tuple(columns)
    table = np.column_stack([np.asarray(columns[name], dtype=float) for name in names])
    _check_kinds(names, kinds)
    fixed = np.empty((table.shape[0], 0))
    if complete_columns is not None:
        fixed = np.asarray(complete_columns, dtype=float).reshape(table.shape[0], -1)
    if not np.isfinite(fixed).all():
        raise ValueError("complete_columns must have no missing value")
    holes = ~np.isfinite(table)
    shares = tuple(float(value) for value in holes.mean(axis=0))
    method = f"chained equations, {n_copies} copies of {n_rounds} rounds"
    problem = _problem(names, table, holes)
    if problem:
        return ImputedCopies(
            names, np.empty((0, *table.shape)), shares, seed, n_rounds, method, False, problem
        )
    generator = np.random.default_rng(seed)
    copies = np.stack(
        [
            _one_copy(names, kinds, table, holes, fixed, n_rounds, generator)
            for _ in range(n_copies)
        ]
    )
    return ImputedCopies(names, copies, shares, seed, n_rounds, method, True, "")


def _one_copy(
    names: tuple[str, ...],
    kinds: Mapping[str, str],
    table: Array,
    holes: Flags,
    fixed: Array,
    n_rounds: int,
    generator: np.random.Generator,
) -> Array:
    filled = table.copy()
    incomplete = [j for j in range(len(names)) if holes[:, j].any()]
    for j in incomplete:
        known = table[~holes[:, j], j]
        filled[holes[:, j], j] = generator.choice(known, size=int(holes[:, j].sum()))
    for _ in range(n_rounds if len(incomplete) > 1 else 1):
        for j in incomplete:
            others = np.delete(filled, j, axis=1)
            predictors = _with_intercept(np.hstack([fixed, others]))
            draw = draw_binary if kinds[names[j]] == "binary" else draw_matched
            filled[holes[:, j], j] = draw(table[:, j], predictors, holes[:, j], generator)
    return filled


def _with_intercept(predictors: Array) -> Array:
    """Return standardised predictors with an intercept; constant columns are dropped."""
    spread = predictors.std(axis=0)
    kept = spread > 0
    scaled = (predictors[:, kept] - predictors[:, kept].mean(axis=0)) / spread[kept]
    return np.column_stack([np.ones(predictors.shape[0]), scaled])


def _check_kinds(names: tuple[str, ...], kinds: Mapping[str, str]) -> None:
    for name in names:
        if kinds.get(name) not in KINDS:
            raise ValueError(f"column {name!r} needs a kind, one of {', '.join(KINDS)}")


def _problem(names: tuple[str, ...], table: Array, holes: Flags) -> str:
    for j, name in enumerate(names):
        known = int(np.count_nonzero(~holes[:, j]))
        if holes[:, j].any() and known < FEWEST_KNOWN:
            return f"{name} is known in {known} rows only, too few to impute from"
    return ""
