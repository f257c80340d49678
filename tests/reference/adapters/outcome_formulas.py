"""Designs from the formulas of the cases."""

import re
from typing import Any

import numpy as np
import pandas as pd
import patsy

from lengthwise.statistics.outcome.model_fit import ModelFit

Arguments = dict[str, Any]
Numbers = dict[str, Any]


def design(frame: pd.DataFrame, formula: str) -> tuple[np.ndarray, np.ndarray, tuple[str, ...]]:
    """Return outcome (n,), design (n, p) and the names of its columns."""
    y, x = patsy.dmatrices(formula, frame)
    names = tuple(short_name(name) for name in x.design_info.column_names)
    return np.asarray(y)[:, -1], np.asarray(x), names


def exposed_design(frame: pd.DataFrame, formula: str, column: str, value: Any) -> np.ndarray:
    """Return the design with one variable set to a value in every row."""
    info = patsy.dmatrices(formula, frame)[1].design_info
    return np.asarray(patsy.build_design_matrices([info], frame.assign(**{column: value}))[0])


def short_name(name: str) -> str:
    """Return `race2` for `C(race)[T.2]`."""
    found = re.fullmatch(r"(?:C\()?(\w+?)\)?\[(?:T\.)?(.+)\]", name)
    return name if found is None else found.group(1) + found.group(2)


def numbers(fit: ModelFit, order: list[str] | None = None) -> Numbers:
    """Return the usual numbers of a fit, in the order asked for."""
    names = list(fit.terms) if order is None else order
    places = [fit.terms.index(name) for name in names]
    return {
        "est": fit.vector()[places],
        "se": np.array(fit.standard_errors)[places],
        "loglik": fit.log_likelihood,
        "alpha": fit.working_correlation,
    }
