"""Runs every analysis for one quarter and stores the run."""

import hashlib
import json
from collections.abc import Callable
from dataclasses import replace
from importlib.metadata import version
from typing import Any

import pandas as pd

from lengthwise import __version__
from lengthwise.analyse.actions import checked_actions
from lengthwise.analyse.agreement import analyse_agreement
from lengthwise.analyse.agreement_depth import analyse_agreement_depth
from lengthwise.analyse.baselines import checked_baselines
from lengthwise.analyse.beside import second_process
from lengthwise.analyse.cases import analyse_flow, analyse_quality, list_safety
from lengthwise.analyse.comparisons_of_methods import comparisons_of_methods, needed
from lengthwise.analyse.criteria import analyse_criteria, checked_criteria, in_force
from lengthwise.analyse.outcome_chain import analyse_chain
from lengthwise.analyse.outcomes import analyse_outcomes
from lengthwise.analyse.process import analyse_process
from lengthwise.analyse.rows import ResultRows
from lengthwise.errors import AnalysisError
from lengthwise.periods import Quarter, window
from lengthwise.settings import Settings
from lengthwise.store import results
from lengthwise.store.coded import coded_marts
from lengthwise.store.criteria import CodedCases
from lengthwise.store.database import Connection

_LIBRARIES = ("duckdb", "numpy", "pandas", "scipy", "statsmodels", "plotnine")
_MARTS = (
    "length_pairs", "reading_conditions", "reader_pairs", "fills", "outcomes", "tooth_times",
    "canal_conduct",
)  # fmt: skip


def _run_id(period: str, settings: dict[str, Any], inputs: list[dict[str, Any]]) -> str:
    """Return the id of a run: the same data, settings and version give the same id."""
    said = json.dumps(
        [period, settings, [item["sha256"] for item in inputs], __version__], sort_keys=True
    )
    return f"{period}-{hashlib.sha256(said.encode()).hexdigest()[:10]}"


def _analyse_here(
    rows: ResultRows, connection: Connection, frames: dict[str, pd.DataFrame],
    quarters: list[str], period: str, settings: Settings, progress: Callable[[str], None],
) -> None:  # fmt: skip
    """Write everything but comparisons of methods; `settings` holds every version of criteria."""
    now, pairs = quarters[-1], frames["length_pairs"]
    list_safety(rows, results.safety_lists(connection, now))
    progress("flow of cases and data quality")
    analyse_flow(rows, frames, now, period)
    analyse_quality(rows, results.completeness(connection), period)
    progress("criteria")
    cases_of = CodedCases(connection, frames["outcomes"]).of
    analyse_criteria(rows, cases_of, now, quarters, settings)
    settings = replace(settings, criteria=in_force(settings.criteria, now))
    progress("agreement of length methods")
    analyse_agreement(rows, pairs, period, settings)
    analyse_agreement_depth(rows, frames, now, period, settings)
    analyse_process(rows, connection, frames, cases_of, quarters, settings, progress)
    progress("outcome")
    outcomes, fills = frames["outcomes"], frames["fills"]
    analyse_outcomes(rows, outcomes, period, settings, frames["tooth_times"], fills)
    analyse_chain(rows, pairs, frames["reading_conditions"], fills, period, settings)


def analyse(
    connection: Connection,
    settings: Settings,
    quarter: Quarter,
    progress: Callable[[str], None],
) -> str:
    """Compute and store the results of a quarter from the marts; return the run's id.

    Raises
    ------
    AnalysisError
        No treatment lies in the quarter.
    """
    checked_criteria(settings)
    checked_actions(settings)
    checked_baselines(settings)
    known = results.quarters(connection)
    now = str(quarter)
    if now not in known:
        raise AnalysisError(
            f"there is no treatment in {now}; quarters with treatments run from "
            f"{known[0] if known else 'none'} to {known[-1] if known else 'none'}"
        )
    period = window(known[0], now)
    progress("reading the derived tables")
    frames = coded_marts(connection, _MARTS)
    pairs, readings = frames["length_pairs"], frames["reading_conditions"]
    rows = ResultRows()
    upto = [name for name in known if name <= now]
    with second_process(len(readings)) as start:
        in_force_now = replace(settings, criteria=in_force(settings.criteria, now))
        comparing = start(
            comparisons_of_methods, *needed(pairs, readings), period, in_force_now
        )
        _analyse_here(rows, connection, frames, upto, period, settings, progress)
        progress("comparisons of length methods")
        rows.extend(comparing())
    inputs = results.loaded_inputs(connection)
    said = in_force_now.as_dict()
    run_id = _run_id(now, said, inputs)
    tables = {"estimates": rows.estimates, "points": rows.points, "lists": rows.lists}
    versions = {name: version(name) for name in _LIBRARIES}
    results.write_run(connection, run_id, now, said, inputs, versions, tables)
    return run_id
