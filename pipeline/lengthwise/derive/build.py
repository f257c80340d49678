"""Builds staging views and the intermediate and mart tables, and asserts their grain."""

import calendar
from dataclasses import dataclass
from typing import Any

from lengthwise.errors import StoreError
from lengthwise.periods import Quarter
from lengthwise.settings import Settings
from lengthwise.store.database import Connection, plain_errors
from lengthwise.store.queries import SqlFile, query

# In the order in which they build on each other.
INTERMEDIATE = (
    "int_treatments_classified",
    "int_readings_averaged",
    "int_fills_first_read",
    "int_film_readings",
    "int_reviews_combined",
    "int_reviews_judged",
)
MARTS = (
    "length_pairs", "reading_conditions", "fills", "tooth_levels", "outcomes", "canal_conduct",
    "reader_pairs", "tooth_times",
)  # fmt: skip
STAGING = (
    "stg_treatments", "stg_canals", "stg_readings", "stg_fills", "stg_follow_ups",
    "stg_incidents",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Key:
    """The columns that are unique in a table."""

    table: str
    columns: str


KEYS = (
    Key("intermediate.int_treatments_classified", "treatment_id"),
    Key("marts.length_pairs", "treatment_id, canal, method"),
    Key("marts.reading_conditions", "treatment_id, canal, method, stage, replicate"),
    Key("marts.fills", "treatment_id, canal"),
    Key("marts.reader_pairs", "measure, kind, treatment_id, canal, days_from_treatment"),
    Key("marts.tooth_levels", "treatment_id"),
    Key("marts.outcomes", "treatment_id"),
    Key("marts.tooth_times", "treatment_id"),
    Key("marts.canal_conduct", "treatment_id, canal"),
)


def parameters(settings: Settings, quarter: Quarter) -> dict[str, Any]:
    """Return every value that a model may bind."""
    short_below_mm, within_to_mm = settings.level_limits_mm
    month = int(quarter.last_month[-2:])
    last = calendar.monthrange(quarter.year, month)[1]
    return {
        "last_month": quarter.last_month,
        "last_day": f"{quarter.last_month}-{last:02d}",
        "short_below_mm": short_below_mm,
        "within_to_mm": within_to_mm,
        "tolerance_mm": settings.thresholds.tolerance_mm,
        "first_countable_months": settings.follow_up.first_countable_months,
        "uncertain_until_months": settings.follow_up.uncertain_until_months,
        "horizon_months": settings.follow_up.horizon_months,
        "review_choice": settings.follow_up.choice,
        "reader_rule": settings.follow_up.reader_rule,
    }


def _build_table(
    connection: Connection, layer: str, sql: SqlFile, values: dict[str, Any]
) -> None:
    body = sql.text.rstrip().rstrip(";")
    bound = {name: values[name] for name in sql.parameters}
    connection.execute(f"create or replace table {layer}.{sql.name} as {body}", bound)


def _require_key(connection: Connection, key: Key) -> None:
    # Fetched whole: an unfinished result would block the connection's next reader.
    (row,) = connection.execute(
        f"select count(*) from (select {key.columns} from {key.table} "
        f"group by {key.columns} having count(*) > 1)"
    ).fetchall()
    if row[0]:
        raise StoreError(
            f"{key.table}: {key.columns} is not unique in {row[0]} cases; report this"
        )


def build(connection: Connection, settings: Settings, quarter: Quarter) -> None:
    """Build every layer for data up to the end of a quarter."""
    values = parameters(settings, quarter)
    with plain_errors("deriving the tables"):
        for layer in ("staging", "intermediate", "marts"):
            connection.execute(f"create schema if not exists {layer}")
        for name in STAGING:
            sql = query("staging", name)
            connection.execute(
                f"create or replace view staging.{name} as {sql.text.rstrip().rstrip(';')}"
            )
        for layer, names in (("intermediate", INTERMEDIATE), ("marts", MARTS)):
            for name in names:
                _build_table(connection, layer, query(layer, name), values)
        for key in KEYS:
            _require_key(connection, key)
