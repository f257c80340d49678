"""The part of agreement that takes longest with many readings: trends, conditions, strata."""

import pandas as pd

from lengthwise.analyse.agreement_conditions import analyse_conditions
from lengthwise.analyse.agreement_strata import analyse_strata
from lengthwise.analyse.agreement_trends import analyse_trends_and_coefficients
from lengthwise.analyse.method_order import methods_used
from lengthwise.analyse.rows import ResultRows
from lengthwise.settings import Settings

_OF_BOTH = [
    "treatment_id", "canal", "method", "patient_id", "clinician_id", "tooth_type", "length_mm",
    "confirmed_length_mm", "difference_mm",
]  # fmt: skip
_OF_READINGS = [
    "stage", "replicate", "month", "canal_state", "has_metal_contact", "is_circuit_checked",
    "is_stable", "steps_under_apex",
]  # fmt: skip


def needed(pairs: pd.DataFrame, readings: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return what comparisons_of_methods looks at, with treatments as numbers instead of keys.

    That is a third of what another process would have to be sent.
    """
    return _numbered(pairs[_OF_BOTH]), _numbered(readings[[*_OF_BOTH, *_OF_READINGS]])


def _numbered(frame: pd.DataFrame) -> pd.DataFrame:
    return frame.assign(treatment_id=frame["treatment_id"].cat.codes)


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
