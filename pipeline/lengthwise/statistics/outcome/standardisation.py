"""Risk under each level, averaged over the case-mix of this practice."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.outcome.model_fit import ModelFit, exponentiated
from lengthwise.statistics.results import Estimate, refused

METHOD = "standardised over the rows, delta method"


@dataclass(frozen=True, slots=True)
class StandardisedRisk:
    """One level: its risk and how it stands to the reference.

    Attributes
    ----------
    level_name : str
    risk : Estimate
        Mean predicted risk with every row set to the level, 0-1.
    difference, ratio : Estimate or None
        Level - reference and level / reference; None for the reference.
    share_of_events : Estimate or None
        Share of all expected events that the model associates with this level being what it
        is and not the reference; negative where the level has the lower risk. None for
        the reference, or where the level of each row was not given.
    risk_standard_error, difference_standard_error, log_ratio_standard_error : float
    share_standard_error : float
    """

    level_name: str
    risk: Estimate
    difference: Estimate | None
    ratio: Estimate | None
    share_of_events: Estimate | None
    risk_standard_error: float
    difference_standard_error: float
    log_ratio_standard_error: float
    share_standard_error: float


@dataclass(frozen=True, slots=True)
class StandardisedRisks:
    """All levels; `rows` is empty where `valid` is False."""

    rows: tuple[StandardisedRisk, ...]
    reference: str
    method: str
    valid: bool
    reason: str

    def row(self, level_name: str) -> StandardisedRisk:
        """Return the row of one level."""
        for row in self.rows:
            if row.level_name == level_name:
                return row
        raise ValueError(f"unknown level: {level_name}")


def designs_by_level(
    design: ArrayLike, levels: Mapping[str, Mapping[int, float]]
) -> dict[str, Array]:
    """Return one copy of the design for each level, with its columns set.

    Parameters
    ----------
    design : array of shape (n, p)
    levels : mapping
        Level name -> {column number: value}; for indicator columns the reference has 0 in
        all of them.
    """
    copies = {}
    for name, columns in levels.items():
        copy = np.array(design, dtype=float)
        for column, value in columns.items():
            copy[:, column] = value
        copies[name] = copy
    return copies


def standardised_risks(
    fit: ModelFit,
    level_designs: Mapping[str, ArrayLike],
    *,
    reference: str,
    design: ArrayLike | None = None,
    level_of_row: Sequence[str] | None = None,
) -> StandardisedRisks:
    """Average predicted risks over the rows with the level of all rows set in turn.

    Parameters
    ----------
    fit : ModelFit
        With a logit link; its covariance (clustered or not) carries into the intervals.
    level_designs : mapping of str to array of shape (n, p)
        As from `designs_by_level`; complete rows, the same rows for each level.
    reference : str
        A key of `level_designs`.
    design : array of shape (n, p), optional
        Design as observed; with `level_of_row` it gives the share of events by level.
    level_of_row : sequence of str of length n, optional

    Returns
    -------
    StandardisedRisks
        Refused, with the reason of the fit, where the fit is not valid.

    Notes
    -----
    The case-mix is taken as fixed. Ratios have their interval on the log scale. These are
    associations: covariates that were not recorded stay unadjusted. Source: Muller &
    MacLehose 2014, 10.1093/ije/dyu029; shares Greenland & Drescher 1993, 10.2307/2532206.
    """
    if reference not in level_designs:
        raise ValueError("the reference must be one of the levels")
    if fit.link != "logit":
        raise ValueError("standardised risks need a logit link")
    method = f"{fit.method}, {METHOD}"
    if not fit.valid:
        return StandardisedRisks((), reference, method, False, fit.reason)
    risks = {name: _risk(fit, np.asarray(x, float)) for name, x in level_designs.items()}
    shares = {}
    if design is not None and level_of_row is not None:
        shares = _shares(fit, np.asarray(design, float), level_designs, reference, level_of_row)
    rows = tuple(
        _row(fit, method, name, risks, reference, shares.get(name)) for name in level_designs
    )
    return StandardisedRisks(rows, reference, method, True, fit.reason)


def _risk(fit: ModelFit, x: Array) -> tuple[float, Array]:
    """Return the mean risk and its gradient in the coefficients, shape (p,)."""
    risk = expit(x @ fit.vector())
    return float(risk.mean()), (risk * (1 - risk)) @ x / risk.size


def _row(
    fit: ModelFit,
    method: str,
    name: str,
    risks: dict[str, tuple[float, Array]],
    reference: str,
    share: tuple[float, Array] | None,
) -> StandardisedRisk:
    value, gradient = risks[name]
    base, base_gradient = risks[reference]
    risk, risk_error = _delta(fit, value, gradient, method)
    if name == reference:
        return StandardisedRisk(
            name, risk, None, None, None, risk_error, math.nan, math.nan, math.nan
        )
    difference, difference_error = _delta(fit, value - base, gradient - base_gradient, method)
    if min(value, base) > 0:
        log_ratio, ratio_error = _delta(
            fit, math.log(value / base), gradient / value - base_gradient / base, method
        )
        ratio = exponentiated(log_ratio)
    else:
        ratio_error = math.nan
        ratio = refused("a risk of 0 has no ratio", method=method, n_used=fit.n_used)
    part, part_error = (None, math.nan) if share is None else _delta(fit, *share, method)
    return StandardisedRisk(
        name, risk, difference, ratio, part,
        risk_error, difference_error, ratio_error, part_error,
    )  # fmt: skip


def _delta(fit: ModelFit, value: float, gradient: Array, method: str) -> tuple[Estimate, float]:
    error = math.sqrt(max(float(gradient @ fit.covariance_array() @ gradient), 0.0))
    half = fit.critical_value() * error
    item = Estimate(
        value, value - half, value + half, fit.level, fit.n_used, fit.n_missing, method
    )
    return item, error


def _shares(
    fit: ModelFit,
    design: Array,
    level_designs: Mapping[str, ArrayLike],
    reference: str,
    level_of_row: Sequence[str],
) -> dict[str, tuple[float, Array]]:
    """Return for each level the share of expected events and its gradient."""
    labels = np.asarray(level_of_row, dtype=object)
    base_design = np.asarray(level_designs[reference], dtype=float)
    seen, base = expit(design @ fit.vector()), expit(base_design @ fit.vector())
    seen_slope = (seen * (1 - seen))[:, None] * design
    base_slope = (base * (1 - base))[:, None] * base_design
    total, total_slope = float(seen.sum()), seen_slope.sum(axis=0)
    shares = {}
    for name in level_designs:
        own = labels == name
        excess = float((seen - base)[own].sum())
        slope = (seen_slope - base_slope)[own].sum(axis=0)
        shares[name] = (excess / total, slope / total - excess * total_slope / total**2)
    return shares
