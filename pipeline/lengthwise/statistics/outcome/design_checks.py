"""Reasons why a model cannot be fitted, in words a clinician can read."""

import numpy as np

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.outcome.families import Family
from lengthwise.statistics.outcome.rows import Rows

# The linear programme grows with distinct rows; beyond this many it is not tried.
MOST_PATTERNS = 20_000


def outcome_problem(rows: Rows, family: Family, *, clustered: bool) -> str:
    """Return why the outcome cannot be modelled, or an empty string."""
    width, count = rows.columns.shape
    if count == 0:
        return "no complete row is left"
    if family.is_binary and not np.all((rows.y == 0.0) | (rows.y == 1.0)):
        raise ValueError("a binary outcome must be 0 or 1")
    if float(rows.y.min()) == float(rows.y.max()):
        if family.is_binary:
            state = "every row" if rows.y[0] == 1.0 else "no row"
            return f"{state} has the event, so no association can be estimated"
        return "the outcome does not vary"
    if count <= width:
        return f"{count} rows are too few for {width} coefficients"
    if clustered and rows.n_clusters <= width:
        whose = "1 patient is" if rows.n_clusters == 1 else f"{rows.n_clusters} patients are"
        return (
            f"{whose} too few for {width} coefficients: "
            "the variation between patients cannot be judged"
        )
    return ""


def rank_problem(rows: Rows) -> str:
    """Return why the design has no unique solution, or an empty string."""
    gram = np.einsum("pn,qn->pq", rows.columns, rows.columns)
    size = np.sqrt(np.diag(gram))
    if np.any(size == 0.0):
        return "a column of the model is zero in every row: one level is empty"
    smallest = float(np.linalg.eigvalsh(gram / np.outer(size, size))[0])
    if smallest < 1e-12 and _rank(rows.columns) < rows.columns.shape[0]:
        return "a covariate does not vary, or repeats others, in the complete rows"
    return ""


def _rank(columns: Array) -> int:
    scaled = columns / np.linalg.norm(columns, axis=1, keepdims=True)
    return int(np.linalg.matrix_rank(scaled))


def level_problem(rows: Rows, family: Family) -> str:
    """Return a reason where a level has no event, or nothing but events.

    Correlated estimating equations may still settle there, on a value that rests on the
    working correlation alone.
    """
    if family.name == "gaussian":
        return ""
    ends = (0.0, 1.0) if family.is_binary else (0.0,)
    for column in rows.columns:
        inside = column == 1.0
        if inside.all() or not np.all(inside | (column == 0.0)):
            continue
        for part in (inside, ~inside):
            if any(not np.any(rows.y[part] != end) for end in ends):
                return SEPARATION
    return ""


SEPARATION = (
    "separation: the covariates predict the outcome without error in some rows, "
    "so ordinary estimates do not exist; a penalised fit is needed"
)


def separation_problem(rows: Rows) -> str:
    """Return a reason where some combination of columns predicts the outcome outright."""
    from lengthwise.statistics.outcome.separation import separating_columns

    if rank_problem(rows):
        return ""
    patterns = np.unique(np.vstack([rows.y, rows.columns]).T, axis=0)
    if patterns.shape[0] > MOST_PATTERNS:
        return ""
    found = separating_columns(patterns[:, 0], patterns[:, 1:])
    return SEPARATION if any(found) else ""
