"""Small expressions over columns, as the arguments of the cases write them."""

import re
from typing import Any

import numpy as np
import pandas as pd


def column(data: pd.DataFrame, text: str) -> np.ndarray:
    """Return a column, a difference `a-b`, `mean(a,b)`, `1` or a bracketed expression."""
    if text in data.columns:
        return data[text].to_numpy()
    if text == "1":
        return np.ones(len(data))
    found = re.fullmatch(r"mean\((.+)\)", text)
    if found:
        return data[[one.strip() for one in found[1].split(",")]].mean(axis=1).to_numpy()
    if text.startswith("C(") and text[2:-1] in data.columns:
        return data[text[2:-1]].to_numpy()
    return data.eval(text).to_numpy(dtype=float)


def design(data: pd.DataFrame, texts: list[str]) -> np.ndarray:
    """Return the columns of several expressions side by side."""
    return np.column_stack([column(data, one) for one in texts]).astype(float)


def with_indicator(data: pd.DataFrame, arguments: dict[str, Any], name: str) -> pd.DataFrame:
    """Return the data with a 0/1 column defined as `Column == Level` in the arguments."""
    if name not in arguments:
        return data
    source, level = (one.strip() for one in arguments[name].split("=="))
    return data.assign(**{name: (data[source].astype(str) == level).astype(float)})


def formula_design(data: pd.DataFrame, formula: str) -> tuple[np.ndarray, np.ndarray]:
    """Return response and design (with intercept) of `y ~ a + b` with numeric terms."""
    response, right = (one.strip() for one in formula.split("~"))
    terms = [one.strip() for one in right.split("+")]
    return column(data, response), design(data, ["1", *terms])
