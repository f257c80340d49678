"""Runs the outcome models on rows written by hand."""

from typing import Any

import duckdb
import pandas as pd

from lengthwise.derive.build import parameters
from lengthwise.periods import parse_quarter
from lengthwise.settings import FollowUp, Settings
from lengthwise.store.queries import query

MODELS = (
    ("intermediate", "int_treatments_classified"),
    ("intermediate", "int_fills_first_read"),
    ("intermediate", "int_film_readings"),
    ("intermediate", "int_reviews_combined"),
    ("intermediate", "int_reviews_judged"),
    ("marts", "fills"),
    ("marts", "tooth_levels"),
    ("marts", "outcomes"),
    ("marts", "tooth_times"),
    ("marts", "reader_pairs"),
)
COLUMNS = {
    "treatments": (
        "treatment_id text, patient_id text, clinician_id text, site_id text, tooth text, "
        "period text, treatment_type text, pulpal_diagnosis text, preop_pai integer, "
        "is_restoration_adequate boolean"
    ),
    "fills": (
        "treatment_id text, canal text, fill_offset_mm double, level_in_words text, is_core_beyond boolean, "
        "is_sealer_beyond boolean, has_voids boolean, is_taper_consistent boolean, "
        "film_quality text, reader_id text, read integer"
    ),
    "follow_ups": (
        "treatment_id text, canal text, days_from_treatment integer, imaging text, "
        "pai integer, cbct_pai integer, has_pain boolean, has_swelling boolean, "
        "has_sinus_tract boolean, is_tender boolean, is_in_function boolean, "
        "is_tooth_present boolean, loss_reason text, reader_id text, read integer"
    ),
}
TOOTH = {
    "treatment_id": "T1", "patient_id": "P1", "clinician_id": "C1", "tooth": "16",
    "period": "2018-01", "preop_pai": 4,
}  # fmt: skip
REVIEW = {
    "treatment_id": "T1", "days_from_treatment": 400, "imaging": "film", "pai": 1,
    "is_in_function": True, "is_tooth_present": True, "has_pain": False, "reader_id": "C1",
    "read": 1,
}  # fmt: skip
FILL = {
    "treatment_id": "T1",
    "canal": "MB",
    "fill_offset_mm": -1.0,
    "reader_id": "C1",
    "read": 1,
}


def review(**changed: Any) -> dict[str, Any]:
    """Return a review that counts as healed, with some fields changed."""
    return {**REVIEW, **changed}


def tooth(**changed: Any) -> dict[str, Any]:
    """Return a molar with a lesion of PAI 4, with some fields changed."""
    return {**TOOTH, **changed}


def _insert(
    connection: duckdb.DuckDBPyConnection, name: str, rows: list[dict[str, Any]]
) -> None:
    connection.execute(f"create table staging.stg_{name} ({COLUMNS[name]})")
    for row in rows:
        places = ", ".join(f"${key}" for key in row)
        connection.execute(
            f"insert into staging.stg_{name} ({', '.join(row)}) values ({places})", row
        )


def derived(
    reviews: list[dict[str, Any]],
    *,
    teeth: list[dict[str, Any]] | None = None,
    fills: list[dict[str, Any]] | None = None,
    follow_up: FollowUp | None = None,
    quarter: str = "2026-Q2",
    preset: str = "0-2",
    table: str = "marts.outcomes",
) -> pd.DataFrame:
    """Return a derived table of these rows."""
    settings = Settings(follow_up=follow_up or FollowUp(), preset=preset)
    values = parameters(settings, parse_quarter(quarter))
    connection = duckdb.connect()
    for schema in ("staging", "intermediate", "marts"):
        connection.execute(f"create schema {schema}")
    _insert(connection, "treatments", [tooth()] if teeth is None else teeth)
    _insert(connection, "fills", [FILL] if fills is None else fills)
    _insert(connection, "follow_ups", reviews)
    for layer, name in MODELS:
        sql = query(layer, name)
        bound = {key: values[key] for key in sql.parameters}
        connection.execute(f"create table {layer}.{name} as {sql.text}", bound)
    frame: pd.DataFrame = connection.execute(f"select * from {table}").df()
    connection.close()
    return frame


def outcome_of(reviews: list[dict[str, Any]], **options: Any) -> str:
    """Return the outcome of the one tooth."""
    return str(derived(reviews, **options)["outcome"].item())
