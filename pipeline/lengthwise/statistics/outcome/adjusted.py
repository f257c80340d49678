"""The adjusted association of fill level with not healing."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.arrays import Array, Flags
from lengthwise.statistics.outcome.design_checks import SEPARATION, separation_problem
from lengthwise.statistics.outcome.firth import fit_firth
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.model_fit import ModelFit, refused_fit
from lengthwise.statistics.outcome.model_plan import (
    CovariateGroup,
    ModelPlan,
    counted_again,
    plan_model,
)
from lengthwise.statistics.outcome.rows import prepare_rows


@dataclass(frozen=True, slots=True, eq=False)
class AdjustedAssociation:
    """The fit and how it was chosen.

    Attributes
    ----------
    fit : ModelFit
        Terms: intercept, exposure, covariates kept. Coefficients are log odds ratios.
    plan : ModelPlan
    columns : tuple of int
        Columns of the covariates that were kept.
    design : array of shape (n_used, p)
        The design fitted, for standardised risks.
    rows_used : array of shape (n,)
        True for the rows that entered.
    penalised : bool
    """

    fit: ModelFit
    plan: ModelPlan
    columns: tuple[int, ...]
    design: Array
    rows_used: Flags
    penalised: bool
    reason: str


def adjusted_association(
    outcome: ArrayLike,
    exposure: ArrayLike,
    covariates: ArrayLike,
    cluster: ArrayLike,
    *,
    exposure_terms: Sequence[str],
    covariate_terms: Sequence[str],
    covariate_order: Sequence[CovariateGroup],
    correlation: str = "exchangeable",
    covariance: str = "automatic",
    fewest_events: int = 5,
    events_per_parameter: int = 10,
    level: float = 0.95,
) -> AdjustedAssociation:
    """Fit the marginal model that the events allow, penalised where they are sparse.

    Parameters
    ----------
    outcome : array of shape (n,)
        1 not healed, 0 healed, NaN not known.
    exposure : array of shape (n, e)
        Indicator columns of fill level, the reference left out.
    covariates : array of shape (n, q)
        Case-mix columns; q may be 0.
    cluster : array of shape (n,)
        Patient of each row.
    exposure_terms, covariate_terms : sequence of str
        Names of the columns.
    covariate_order : sequence of CovariateGroup
        Groups of covariate columns, the most important first.
    correlation, covariance : str
        As for `fit_gee`; from exchangeable the fit falls back to independence where the
        estimated correlation is impossible, and says so.
    fewest_events, events_per_parameter : int
        As for `plan_model`.

    Returns
    -------
    AdjustedAssociation
        Not valid, with a reason, below `fewest_events`, or where no fit exists.

    Notes
    -----
    How many covariates are kept is decided on the rows complete in all of them; the fit
    then uses the rows complete in those kept. Two-sided; no direction is taken for granted.
    """
    x, z = _columns(exposure), _columns(covariates)
    if x.shape[1] != len(exposure_terms) or z.shape[1] != len(covariate_terms):
        raise ValueError("one term is needed for each column")
    y, labels = np.asarray(outcome, dtype=float), np.asarray(cluster)
    everything = prepare_rows(y, np.hstack([x, z]), cluster=labels)
    used = _used(y.size, everything.order, everything.n_used)
    n_events = int(np.count_nonzero(everything.y == 1.0))
    plan = plan_model(
        n_events,
        everything.n_used,
        x.shape[1],
        covariate_order,
        fewest_events=fewest_events,
        events_per_parameter=events_per_parameter,
    )
    columns = tuple(column for group in plan.kept for column in group.columns)
    if plan.dropped and plan.valid:
        # A covariate that is not in the model sets no tooth aside for being missing.
        everything = prepare_rows(y, np.hstack([x, z[:, list(columns)]]), cluster=labels)
        used = _used(y.size, everything.order, everything.n_used)
        n_events = int(np.count_nonzero(everything.y == 1.0))
        plan = counted_again(plan, n_events, everything.n_used)
    terms = ("intercept", *exposure_terms, *(covariate_terms[c] for c in columns))
    one = np.ones((int(used.sum()), 1))
    design = np.hstack([one, x[used], z[used][:, list(columns)]])
    if not plan.valid:
        fit = refused_fit(
            plan.reason,
            terms=terms,
            method="no model",
            link="logit",
            level=level,
            n_used=everything.n_used,
            n_missing=everything.n_missing,
            n_events=n_events,
            n_clusters=everything.n_clusters,
        )
        return AdjustedAssociation(fit, plan, columns, design, used, False, plan.reason)
    fit, penalised, note = _fit(
        y[used], design, labels[used], terms, correlation, covariance, plan.penalised, level
    )
    if penalised:
        # The penalised fit counts each row for itself; the patients are what was asked about.
        fit = replace(fit, n_clusters=everything.n_clusters)
    reasons = [text for text in (plan.reason, note, fit.reason) if text]
    return AdjustedAssociation(
        fit, plan, columns, design, used, penalised, "; ".join(dict.fromkeys(reasons))
    )


def _columns(values: ArrayLike) -> Array:
    array = np.asarray(values, dtype=float)
    return array[:, None] if array.ndim == 1 else array


def _used(n: int, order: np.ndarray | None, n_used: int) -> Flags:
    used = np.zeros(n, dtype=bool)
    used[np.arange(n_used) if order is None else order] = True
    return used


def _fit(
    y: Array,
    design: Array,
    cluster: Array,
    terms: tuple[str, ...],
    correlation: str,
    covariance: str,
    penalised: bool,
    level: float,
) -> tuple[ModelFit, bool, str]:
    shares_patients = "the penalised fit takes teeth of one patient as independent"
    if penalised:
        return fit_firth(y, design, terms=terms, level=level).fit, True, shares_patients
    fit = fit_gee(
        y, design, cluster, terms=terms, correlation=correlation, covariance=covariance,
        level=level,
    )  # fmt: skip
    if fit.valid:
        return fit, False, ""
    if fit.reason == SEPARATION or separation_problem(prepare_rows(y, design)):
        return fit_firth(y, design, terms=terms, level=level).fit, True, shares_patients
    if correlation == "exchangeable":
        again = fit_gee(
            y, design, cluster, terms=terms, correlation="independence",
            covariance=covariance, level=level,
        )  # fmt: skip
        if again.valid:
            return again, False, f"independence was used: {fit.reason}"
    return fit, False, ""
