"""The part of agreement that takes longest with many readings: trends, conditions, strata."""

import pandas as pd

from lengthwise.analyse.agreement_conditions import analyse_conditions
from lengthwise.analyse.agreement_strata import analyse_strata
from lengthwise.analyse.agreement_trends import analyse_trends_and_coefficients
from lengthwise.analyse.method_order import methods_used
from lengthwise.analyse.rows import ResultRows
from lengthwise.settings import Settings


def comparisons_of_methods(
    pairs: pd.DataFrame, readings: pd.DataFrame, period: str, settings: Settings
) -> ResultRows:
    """Return A5, A7 and A8, and A2 by stratum, from marts length_pairs and reading_conditions."""
    rows = ResultRows()
    if not pairs.empty:
        order = methods_used(pairs, settings)
        analyse_trends_and_coefficients(rows, pairs, readings, order, period, settings)
        analyse_conditions(rows, readings, order, period, settings)
        analyse_strata(rows, pairs, readings, order, period, settings)
    return rows
