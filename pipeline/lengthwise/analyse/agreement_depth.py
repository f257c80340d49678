"""Agreement beyond limits and shares: A3, A4, A9 and A10, and bias by month."""

from typing import Any

import pandas as pd

from lengthwise.analyse.agreement_discordant import analyse_discordance
from lengthwise.analyse.agreement_errors import analyse_own_errors, analyse_repeatability
from lengthwise.analyse.agreement_readers import analyse_readers
from lengthwise.analyse.agreement_trends import add_bias_by_month
from lengthwise.analyse.method_order import methods_used
from lengthwise.analyse.rows import ResultRows
from lengthwise.settings import Settings


def analyse_agreement_depth(
    rows: ResultRows, frames: dict[str, Any], quarter: str, period: str, settings: Settings
) -> None:
    """Write the topics of agreement that comparisons_of_methods does not.

    `frames` holds the marts length_pairs, reading_conditions and reader_pairs.
    """
    pairs: pd.DataFrame = frames["length_pairs"]
    readings: pd.DataFrame = frames["reading_conditions"]
    if not pairs.empty:
        order = methods_used(pairs, settings)
        analyse_repeatability(rows, readings, order, period, settings)
        analyse_own_errors(rows, readings, order, period, settings)
        analyse_discordance(rows, pairs, readings, quarter, period, settings)
        add_bias_by_month(rows, pairs, order, settings)
    analyse_readers(rows, frames["reader_pairs"], period, settings)
