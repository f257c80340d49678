"""Penalised logistic regression for sparse or separated data."""

import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.outcome.design_checks import outcome_problem, rank_problem
from lengthwise.statistics.outcome.families import LOGIT
from lengthwise.statistics.outcome.model_fit import ModelFit, build_fit, refused_fit
from lengthwise.statistics.outcome.rows import Rows, prepare_rows
from lengthwise.statistics.outcome.separation import separating_columns
from lengthwise.statistics.results import Estimate

if TYPE_CHECKING:
    from firthmodels import FirthLogisticRegression


TOLERANCES = (1e-8, 1e-6, 1e-4)
METHOD = "Firth penalised logistic regression, profile penalised-likelihood intervals"


@dataclass(frozen=True, slots=True)
class FirthFit:
    """A penalised fit and what made it necessary.

    Attributes
    ----------
    fit : ModelFit
        Intervals are profile penalised-likelihood, p values penalised likelihood ratio.
        `standard_errors` follow logistf (information of the augmented data);
        `log_likelihood` is the penalised one. Clusters are not allowed for.
    fisher_standard_errors : tuple of float
        Inverse of the plain Fisher information at the estimate (Heinze & Schemper).
    separated_terms : tuple of str
        Terms whose ordinary estimate would be infinite; empty where there is none.
    """

    fit: ModelFit
    fisher_standard_errors: tuple[float, ...]
    separated_terms: tuple[str, ...]

    @property
    def ordinary_exists(self) -> bool:
        """True where the ordinary maximum-likelihood estimate exists."""
        return not self.separated_terms


def fit_firth(
    outcome: ArrayLike, design: ArrayLike, *, terms: Sequence[str], level: float = 0.95
) -> FirthFit:
    """Fit Firth's penalised logistic regression.

    Parameters
    ----------
    outcome : array of shape (n,)
        0 or 1.
    design : array of shape (n, p)
        With its own intercept column.
    terms : sequence of str
        Names of the p columns.
    level : float
        Confidence level, 0-1.

    Returns
    -------
    FirthFit
        Its fit is not valid, with a reason, where the outcome does not vary, columns are
        collinear, or the fit or a profile does not converge. An interval whose limit could
        not be found has its own reason.

    Notes
    -----
    Rows are taken as independent. Sources: Firth 1993, 10.1093/biomet/80.1.27; Heinze &
    Schemper 2002, 10.1002/sim.1047.
    """
    names = tuple(terms)
    rows = prepare_rows(outcome, design)
    if len(names) != rows.columns.shape[0]:
        raise ValueError("one term is needed for each column of the design")
    problem = outcome_problem(rows, LOGIT, clustered=False) or rank_problem(rows)
    if problem:
        return FirthFit(_refusal(problem, names, rows, level), (), ())
    found = separating_columns(rows.y, rows.columns.T)
    separated = tuple(name for name, infinite in zip(names, found, strict=True) if infinite)
    scale = np.abs(rows.columns).max(axis=1)
    model, failure = _penalised(rows, scale)
    if failure:
        return FirthFit(_refusal(failure, names, rows, level), (), separated)
    fit = _with_profiles(model, rows, names, scale, separated, level)
    fisher = np.sqrt(np.diag(np.array(fit.model_covariance)))
    return FirthFit(fit, tuple(float(value) for value in fisher), separated)


def _penalised(rows: Rows, scale: Array) -> tuple["FirthLogisticRegression", str]:
    """Fit on columns of unit size: the library's step limit is per coefficient."""
    from firthmodels import FirthLogisticRegression

    with warnings.catch_warnings():
        # Failure to converge is read from the attribute and turned into a reason.
        warnings.simplefilter("ignore")
        # Near separation rounding may keep the gradient above the strictest tolerance.
        for tolerance in TOLERANCES:
            model = FirthLogisticRegression(
                fit_intercept=False,
                max_iter=1000,
                gtol=tolerance,
                xtol=tolerance,
                backend="numpy",
            )
            model.fit(rows.columns.T / scale, rows.y.astype(int))
            if model.converged_:
                model.lrt()
                return model, ""
    return model, "the penalised fit did not converge"


def _with_profiles(
    model: "FirthLogisticRegression",
    rows: Rows,
    names: tuple[str, ...],
    scale: Array,
    separated: tuple[str, ...],
    level: float,
) -> ModelFit:
    with warnings.catch_warnings():
        # A limit that was not found is NaN and gets its own reason below.
        warnings.simplefilter("ignore")
        limits = model.conf_int(1.0 - level, method="pl", max_iter=1000, tol=1e-8)
    beta = np.asarray(model.coef_, dtype=float).ravel() / scale
    spread, plain_spread = _covariances(rows, beta)
    note = ""
    if separated:
        note = f"separation by {', '.join(separated)}: ordinary estimates do not exist"
    plain = build_fit(
        terms=names,
        beta=beta,
        covariance=spread,
        model_covariance=plain_spread,
        level=level,
        log_likelihood=float(model.loglik_) + float(np.log(scale).sum()),
        working_correlation=0.0,
        scale=1.0,
        n_used=rows.n_used,
        n_missing=rows.n_missing,
        n_events=int(rows.y.sum()),
        n_clusters=rows.n_used,
        method=METHOD,
        link="logit",
        reason=note,
    )
    bounds = np.asarray(limits) / scale[:, None]
    items = tuple(_profiled(item, bounds[i]) for i, item in enumerate(plain.coefficients))
    p_values = tuple(float(p) for p in model.lrt_pvalues_)
    return _replaced(plain, items, p_values)


def _profiled(item: Estimate, limits: Array) -> Estimate:
    note = "" if np.all(np.isfinite(limits)) else "a profile limit could not be found"
    return Estimate(
        item.estimate, float(limits[0]), float(limits[1]), item.level,
        item.n_used, item.n_missing, item.method, not note, note,
    )  # fmt: skip


def _replaced(
    fit: ModelFit, items: tuple[Estimate, ...], p_values: tuple[float, ...]
) -> ModelFit:
    return replace(fit, coefficients=items, p_values=p_values)


def _covariances(rows: Rows, beta: Array) -> tuple[Array, Array]:
    """Return the inverse information of the augmented data, and the plain one.

    The penalty acts as half an event and half a non-event spread over the rows by their
    leverage, which raises each row's weight by the factor 1 + leverage.
    """
    _, _, weight = LOGIT.working(beta @ rows.columns)
    plain = np.linalg.inv((rows.columns * weight) @ rows.columns.T)
    leverage = weight * np.einsum("in,ij,jn->n", rows.columns, plain, rows.columns)
    augmented = (rows.columns * weight * (1.0 + leverage)) @ rows.columns.T
    return np.linalg.inv(augmented), plain


def _refusal(reason: str, names: tuple[str, ...], rows: Rows, level: float) -> ModelFit:
    return refused_fit(
        reason,
        terms=names,
        method=METHOD,
        link="logit",
        level=level,
        n_used=rows.n_used,
        n_missing=rows.n_missing,
        n_events=int(np.count_nonzero(rows.y == 1.0)),
        n_clusters=rows.n_used,
    )
