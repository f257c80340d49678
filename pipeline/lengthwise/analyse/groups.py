"""Rows of a mart brought together by key: groups as numbers, and one row by canal."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from lengthwise.statistics.patterns import codes_of, joint_patterns

CANAL = ["treatment_id", "canal"]


def group_numbers(frame: pd.DataFrame, columns: Sequence[str]) -> np.ndarray:
    """Return the group (n,) of each row, in order of appearance; blanks are a value as well."""
    return _groups(frame, columns)[0]


def one_row_by_canal(
    readings: pd.DataFrame, keys: Sequence[str], values: str = "length_mm"
) -> pd.DataFrame:
    """Return `keys` and one column for each method's value, missing where it has none.

    Canals without any value are left out. There must be at most one row by canal and method,
    and `keys` the same in all rows of a canal.
    """
    readings = readings[readings[values].notna()]
    numbers, first = _groups(readings, CANAL)
    methods, names = pd.factorize(readings["method"], sort=True)
    table = np.full((len(first), len(names)), np.nan)
    table[numbers, methods] = readings[values].to_numpy(dtype=float)
    wide = readings[list(keys)].iloc[first].reset_index(drop=True)
    return wide.assign(**{str(name): table[:, place] for place, name in enumerate(names)})


def _groups(frame: pd.DataFrame, columns: Sequence[str]) -> tuple[np.ndarray, np.ndarray]:
    return joint_patterns([_codes(frame[name]) for name in columns])


def _codes(column: pd.Series) -> np.ndarray:
    """Return codes from 0, a blank's being 0."""
    if isinstance(column.dtype, pd.CategoricalDtype):
        return column.cat.codes.to_numpy(dtype=np.int64) + 1
    if pd.api.types.is_integer_dtype(column.dtype):
        return codes_of(column.to_numpy())[0]
    return pd.factorize(column)[0] + 1
