"""Generalised linear models: logistic, complementary log-log, modified Poisson."""

from collections.abc import Sequence

from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.families import find_family
from lengthwise.statistics.outcome.gee import fit_rows
from lengthwise.statistics.outcome.model_fit import ModelFit
from lengthwise.statistics.outcome.rows import prepare_rows


def fit_regression(
    outcome: ArrayLike,
    design: ArrayLike,
    *,
    terms: Sequence[str],
    family: str = "binomial",
    cluster: ArrayLike | None = None,
    covariance: str = "automatic",
    weights: ArrayLike | None = None,
    small_sample_t: bool = False,
    level: float = 0.95,
) -> ModelFit:
    """Fit one generalised linear model by maximum likelihood.

    Parameters
    ----------
    outcome : array of shape (n,)
    design : array of shape (n, p)
        With its own intercept column.
    terms : sequence of str
        Names of the p columns.
    family : str
        "binomial" (logit), "cloglog", "poisson" or "gaussian".
    cluster : array of shape (n,), optional
        Patient of each row; each row is its own cluster where None.
    covariance : str
        "model" (trusts the model), "robust" (cluster sums, no factor), "robust_g" (factor
        G/(G-1)), or "automatic": "model" without clusters and "robust_g" with them.
    weights : array of shape (n,), optional
        Row weights, for example frequencies.
    small_sample_t : bool
        t reference below 100 clusters; the normal otherwise.
    level : float
        Confidence level, 0-1.

    Returns
    -------
    ModelFit
        `valid` is False, with a reason, as for `fit_gee`.

    Notes
    -----
    Fisher scoring; standard errors from the expected information. Cluster-robust form:
    Liang & Zeger 1986, 10.1093/biomet/73.1.13.
    """
    if covariance == "automatic":
        covariance = "model" if cluster is None else "robust_g"
    if covariance not in ("model", "robust", "robust_g"):
        raise ValueError(f"unknown covariance {covariance!r}")
    chosen = find_family(family)
    names = {
        "logit": "logistic regression",
        "cloglog": "complementary log-log regression",
        "log": "Poisson regression",
        "identity": "linear regression",
    }
    return fit_rows(
        prepare_rows(outcome, design, cluster=cluster, weights=weights),
        terms=tuple(terms),
        family=chosen,
        correlation="independence",
        covariance=covariance,
        level=level,
        name=names[chosen.link],
        few_clusters_t=small_sample_t,
    )


def fit_logistic(
    outcome: ArrayLike,
    design: ArrayLike,
    *,
    terms: Sequence[str],
    cluster: ArrayLike | None = None,
    weights: ArrayLike | None = None,
    level: float = 0.95,
) -> ModelFit:
    """Fit a logistic regression; see `fit_regression`. Coefficients are log odds ratios."""
    return fit_regression(
        outcome, design, terms=terms, cluster=cluster, weights=weights, level=level
    )


def fit_modified_poisson(
    outcome: ArrayLike,
    design: ArrayLike,
    *,
    terms: Sequence[str],
    cluster: ArrayLike | None = None,
    level: float = 0.95,
) -> ModelFit:
    """Fit a Poisson model to a 0/1 outcome: coefficients are log risk ratios.

    The sandwich without a small-sample factor makes up for the wrong variance. Source: Zou
    2004, 10.1093/aje/kwh090; clusters Zou & Donner 2013, 10.1177/0962280211427759.
    """
    return fit_regression(
        outcome,
        design,
        terms=terms,
        family="poisson",
        cluster=cluster,
        covariance="robust",
        level=level,
    )
