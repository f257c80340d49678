"""Evaluates a criterion's conditions on a mart; a wrong condition is named by its criterion."""

from typing import Any

import duckdb
import pandas as pd

from lengthwise.errors import SettingsError
from lengthwise.store.database import Connection

TABLES = ("canal_conduct", "fills", "outcomes")


def criterion_cases(connection: Connection, item: dict[str, Any]) -> pd.DataFrame:
    """Return one row per case of the denominator: patient, clinician, quarter, month, met.

    Raises
    ------
    SettingsError
        The table is not a mart for criteria, or a condition cannot be evaluated.
    """
    name, table = str(item["id"]), str(item["table"])
    if table not in TABLES:
        raise SettingsError(f"criteria.toml, {name}: table must be one of {', '.join(TABLES)}")
    rules = {
        key: str(item.get(key, "false")) for key in ("numerator", "denominator", "exception")
    }
    for key, rule in rules.items():
        if ";" in rule or "--" in rule:
            raise SettingsError(f"criteria.toml, {name}: {key} must be one condition")
    try:
        _require_conditions(connection, name, table, rules)
        return connection.execute(
            "select patient_id, clinician_id, site_id, quarter, month, treatment_id, "
            f"cast(({rules['numerator']}) as boolean) as is_met, "
            f"coalesce(cast(({rules['exception']}) as boolean), false) as is_exception "
            f"from marts.{table} where ({rules['denominator']})"
        ).df()
    except duckdb.Error:
        raise SettingsError(
            f"criteria.toml, {name}: numerator, denominator or exception cannot be evaluated on "
            f"{table}; check the column names and the condition"
        ) from None


def _require_conditions(
    connection: Connection, name: str, table: str, rules: dict[str, str]
) -> None:
    """Refuse a rule that is a number or a text: it would count as met wherever it is not 0."""
    asked = ", ".join(f"({rule}) as {key}" for key, rule in rules.items())
    found = connection.execute(f"describe select {asked} from marts.{table}").fetchall()
    for key, kind, *_ in found:
        if kind not in ("BOOLEAN", "NULL", '"NULL"'):
            raise SettingsError(
                f"criteria.toml, {name}: {key} must be a condition that is true or false, such "
                f"as methods >= 2; it is of the kind {kind.lower()}"
            )
