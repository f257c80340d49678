"""Agreement in full depth: A3 to A5 and A7 to A10, after limits and shares are known."""

from typing import Any

import pandas as pd

from lengthwise.analyse.agreement_conditions import analyse_conditions
from lengthwise.analyse.agreement_discordant import analyse_discordance
from lengthwise.analyse.agreement_errors import analyse_own_errors, analyse_repeatability
from lengthwise.analyse.agreement_readers import analyse_readers
from lengthwise.analyse.agreement_strata import analyse_strata
from lengthwise.analyse.agreement_trends import (
    add_bias_by_month,
    analyse_trends_and_coefficients,
)
from lengthwise.analyse.rows import ResultRows
from lengthwise.settings import Settings


def analyse_agreement_depth(
    rows: ResultRows, frames: dict[str, Any], quarter: str, period: str, settings: Settings
) -> None:
    """Write every topic of agreement beyond A2 and A6.

    `frames` holds the marts length_pairs, reading_conditions and reader_pairs.
    """
    pairs: pd.DataFrame = frames["length_pairs"]
    readings: pd.DataFrame = frames["reading_conditions"]
    if not pairs.empty:
        used = set(pairs["method"].unique())
        order = tuple(name for name in _methods(settings) if name in used)
        analyse_repeatability(rows, readings, order, period, settings)
        analyse_own_errors(rows, readings, order, period, settings)
        analyse_trends_and_coefficients(rows, pairs, readings, order, period, settings)
        analyse_conditions(rows, readings, order, period, settings)
        analyse_strata(rows, pairs, readings, order, period, settings)
        analyse_discordance(rows, pairs, readings, quarter, period, settings)
        add_bias_by_month(rows, pairs, order, settings)
    analyse_readers(rows, frames["reader_pairs"], period, settings)


def _methods(settings: Settings) -> tuple[str, ...]:
    from lengthwise.dictionary import extended

    return extended("readings", settings.extensions).field("method").enum
