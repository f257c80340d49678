"""Separation: covariates that predict a binary outcome without error."""

import numpy as np
from numpy.typing import ArrayLike


def separating_columns(outcome: ArrayLike, design: ArrayLike) -> tuple[bool, ...]:
    """Tell for each column whether its maximum-likelihood coefficient is infinite.

    Parameters
    ----------
    outcome : array of shape (n,)
        0 or 1, complete.
    design : array of shape (n, p)
        Complete, with its own intercept, of full column rank.

    Returns
    -------
    tuple of bool
        All False where the estimates exist. All True where the outcome does not vary.

    Notes
    -----
    Linear programme of Konis as in firthmodels. Source: Albert & Anderson 1984,
    10.1093/biomet/71.1.1.
    """
    from firthmodels import detect_separation

    y = np.asarray(outcome, dtype=float)
    x = np.asarray(design, dtype=float)
    if np.unique(y).size < 2:
        return (True,) * x.shape[1]
    # Unit scale keeps the programme's box constraint fair to columns in other units.
    scale = np.abs(x).max(axis=0)
    scale[scale == 0.0] = 1.0
    found = detect_separation(x / scale, y.astype(int), fit_intercept=False)
    return tuple(bool(not finite) for finite in found.is_finite)
