"""Evaluates a criterion's conditions on a mart; a wrong condition is named by its criterion."""

from typing import Any

import duckdb
import pandas as pd

from lengthwise.errors import SettingsError
from lengthwise.store.database import Connection

TABLES = ("canal_conduct", "fills", "outcomes")
_RULES = ("numerator", "denominator", "exception")
_OF_TREATMENTS = ["patient_id", "clinician_id", "site_id", "quarter", "month", "treatment_id"]


def criterion_cases(connection: Connection, item: dict[str, Any]) -> pd.DataFrame:
    """Return one row per case of the denominator: patient, clinician, quarter, month, met.

    Raises
    ------
    SettingsError
        The table is not a mart for criteria, or a condition cannot be evaluated.
    """
    columns = "patient_id, clinician_id, site_id, quarter, month, treatment_id"
    return _evaluated(connection, item, columns, "{judged}")


class CodedCases:
    """Each criterion's cases, evaluated once, with what their treatments are as codes.

    `treatments` is a coded mart with one row for every treatment.
    """

    def __init__(self, connection: Connection, treatments: pd.DataFrame) -> None:
        self._connection = connection
        self._treatments = treatments[_OF_TREATMENTS].reset_index(drop=True)
        self._held: dict[tuple[str, ...], pd.DataFrame] = {}

    def of(self, item: dict[str, Any]) -> pd.DataFrame:
        """Return `criterion_cases` in the order of the coded marts."""
        key = tuple(str(item.get(name)) for name in ("id", "table", *_RULES))
        if key not in self._held:
            self._held[key] = self._cases(item)
        return self._held[key]

    def _cases(self, item: dict[str, Any]) -> pd.DataFrame:
        found = _evaluated(
            self._connection, item, "treatment_id, rowid as place",
            "select treatment_number, is_met, is_exception from ({judged}) "
            "inner join treatment_numbers using (treatment_id) order by treatment_number, place",
        )  # fmt: skip
        own = self._treatments.take(found.pop("treatment_number").to_numpy())
        return pd.concat([own.reset_index(drop=True), found], axis=1)


def _evaluated(
    connection: Connection, item: dict[str, Any], columns: str, around: str
) -> pd.DataFrame:
    """Return `columns`, is_met and is_exception of the denominator, in a query `around` it."""
    name, table = str(item["id"]), str(item["table"])
    if table not in TABLES:
        raise SettingsError(f"criteria.toml, {name}: table must be one of {', '.join(TABLES)}")
    rules = {key: str(item.get(key, "false")) for key in _RULES}
    for key, rule in rules.items():
        if ";" in rule or "--" in rule:
            raise SettingsError(f"criteria.toml, {name}: {key} must be one condition")
    try:
        _require_conditions(connection, name, table, rules)
        judged = (
            f"select {columns}, cast(({rules['numerator']}) as boolean) as is_met, "
            f"coalesce(cast(({rules['exception']}) as boolean), false) as is_exception "
            f"from marts.{table} where ({rules['denominator']})"
        )
        return connection.execute(around.replace("{judged}", judged)).df()
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
