"""How far the coefficients would move were one patient left out."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.outcome.families import Family, find_family
from lengthwise.statistics.outcome.gee_covariance import (
    ClusterDecidesAlone,
    cluster_bread,
    corrected_scores,
)
from lengthwise.statistics.outcome.gee_passes import cluster_scores, one_pass
from lengthwise.statistics.outcome.model_fit import ModelFit
from lengthwise.statistics.outcome.rows import Rows, prepare_rows
from lengthwise.statistics.results import Estimate, refused

METHOD = "one-step deletion of each patient in turn"
_FAMILIES = {
    "logit": "binomial", "cloglog": "cloglog", "log": "poisson", "identity": "gaussian",
}  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class ClusterInfluence:
    """Change of every coefficient on leaving out each cluster.

    Attributes
    ----------
    fit : ModelFit
        The fit of all rows.
    changes : array of shape (p, g)
        Coefficient without the cluster minus coefficient with it, on the scale of the link;
        clusters in order of first appearance. Empty where `valid` is False.
    """

    fit: ModelFit
    changes: Array
    method: str
    valid: bool
    reason: str

    def lowest(self, term: str) -> Estimate:
        """Return the smallest coefficient that leaving out one cluster gives."""
        return self._end(term, -1)

    def highest(self, term: str) -> Estimate:
        """Return the largest coefficient that leaving out one cluster gives."""
        return self._end(term, 1)

    def largest_in_errors(self, term: str) -> float:
        """Return the largest change of a coefficient in its standard errors."""
        at = self.fit.terms.index(term)
        return float(np.abs(self.changes[at]).max() / self.fit.standard_errors[at])

    def _end(self, term: str, side: int) -> Estimate:
        if not self.valid:
            return refused(self.reason, method=self.method, n_used=self.fit.n_used)
        at = self.fit.terms.index(term)
        moved = self.fit.coefficients[at].estimate + self.changes[at]
        value = float(moved.max() if side > 0 else moved.min())
        nan = float("nan")
        counts = (self.fit.level, self.fit.n_used, self.fit.n_missing)
        return Estimate(value, nan, nan, *counts, self.method)


def cluster_influence(
    outcome: ArrayLike, design: ArrayLike, cluster: ArrayLike, fit: ModelFit
) -> ClusterInfluence:
    """Approximate the fit without each cluster by one Newton step from the full fit.

    Parameters
    ----------
    outcome : array of shape (n,)
    design : array of shape (n, p)
        The columns that `fit` was fitted to.
    cluster : array of shape (n,)
        Patient of each row.
    fit : ModelFit
        As from `fit_gee`, of the same rows.

    Returns
    -------
    ClusterInfluence
        Not valid where the fit is not, or where one cluster alone decides a coefficient.

    Notes
    -----
    The working correlation is held. All clusters in one pass: the cost is that of a
    Mancl-DeRouen covariance. Source: Preisser & Qaqish 1996, 10.1093/biomet/83.3.551.
    """
    if not fit.valid:
        return _none(fit, fit.reason)
    rows = prepare_rows(outcome, design, cluster=cluster)
    if rows.columns.shape[0] != len(fit.terms):
        raise ValueError("the design must have one column a term of the fit")
    family = find_family(_FAMILIES[fit.link])
    try:
        changes = _changes(rows, family, fit)
    except ClusterDecidesAlone:
        return _none(fit, "one patient alone decides a coefficient")
    return ClusterInfluence(fit, changes, METHOD, True, "")


def _changes(rows: Rows, family: Family, fit: ModelFit) -> Array:
    beta, alpha = fit.vector(), fit.working_correlation
    sums = one_pass(rows, family, beta, alpha != 0.0)
    bread, _ = sums.equations(alpha, np.diff(rows.starts).astype(float))
    root = np.linalg.cholesky(bread)
    parts = []
    for block in rows.blocks():
        scores, scaled, row_sums = cluster_scores(block, family, beta, alpha)
        shares = cluster_bread(block, scaled, row_sums, alpha)
        parts.append(corrected_scores(scores, shares, root, 1.0))
    moved = -np.linalg.solve(bread, np.concatenate(parts, axis=1))
    return np.asarray(moved, dtype=float)


def _none(fit: ModelFit, reason: str) -> ClusterInfluence:
    return ClusterInfluence(fit, np.empty((len(fit.terms), 0)), METHOD, False, reason)
