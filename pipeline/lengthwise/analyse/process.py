"""Where fillings end and how the work is done: levels, charts, readings, actions, clinicians."""

from collections.abc import Callable

import pandas as pd

from lengthwise.analyse.actions import analyse_actions
from lengthwise.analyse.actions_carried import analyse_carried
from lengthwise.analyse.charts import analyse_charts
from lengthwise.analyse.clinicians import analyse_clinicians
from lengthwise.analyse.comparisons import analyse_comparisons
from lengthwise.analyse.feedback import analyse_feedback
from lengthwise.analyse.fill_levels import analyse_fill_levels
from lengthwise.analyse.fill_offsets import analyse_fill_offsets
from lengthwise.analyse.fill_readings import analyse_fill_readings
from lengthwise.analyse.funnels import analyse_funnels
from lengthwise.analyse.measures import CasesOf, all_measures
from lengthwise.analyse.own_canals import analyse_own_canals
from lengthwise.analyse.own_shares import analyse_own_shares
from lengthwise.analyse.private_cusum import analyse_private_cusum
from lengthwise.analyse.rare_events import (
    analyse_individuals,
    analyse_rare_events,
    incident_measure,
)
from lengthwise.analyse.rows import ResultRows
from lengthwise.periods import window
from lengthwise.settings import Settings
from lengthwise.store import results
from lengthwise.store.database import Connection


def analyse_process(
    rows: ResultRows, connection: Connection, frames: dict[str, pd.DataFrame],
    cases_of: CasesOf, quarters: list[str], settings: Settings,
    progress: Callable[[str], None],
) -> None:  # fmt: skip
    """Write every analysis of the process; the last of `quarters` is the quarter asked for."""
    now, period = quarters[-1], window(quarters[0], quarters[-1])
    fills, pairs = frames["fills"], frames["length_pairs"]
    progress("filling levels")
    analyse_fill_levels(rows, fills, now, period, settings)
    analyse_fill_offsets(rows, fills, now, period, settings)
    analyse_fill_readings(rows, frames, quarters, settings)
    progress("charts over time and between clinicians")
    measures = all_measures(cases_of, fills, settings)
    incidents = incident_measure(results.treatments_with_incident(connection))
    analyse_charts(rows, [*measures, *incidents], period, settings)
    analyse_rare_events(rows, [*measures, *incidents], period)
    analyse_individuals(rows, fills, pairs, period, settings)
    asked = {str(item["id"]) for item in settings.criteria if item.get("funnel", False)}
    analyse_funnels(rows, [m for m in measures if m.name in asked], quarters, settings)
    analyse_actions(rows, measures, settings)
    analyse_carried(rows, results.earlier_actions(connection, now), now, settings)
    analyse_comparisons(rows, measures, pairs, now, settings)
    progress("clinicians, observed against expected")
    analyse_clinicians(rows, measures, frames["outcomes"], quarters, settings)
    analyse_own_shares(rows, measures, quarters, settings)
    analyse_feedback(rows, measures, quarters, settings)
    analyse_own_canals(rows, frames, quarters, settings)
    analyse_private_cusum(rows, measures, frames["outcomes"], quarters, settings)
