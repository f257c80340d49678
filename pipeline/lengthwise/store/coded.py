"""Marts as frames whose text is held as codes: a million canals fit, and compare as numbers."""

from collections.abc import Iterable

import pandas as pd

from lengthwise.store.database import Connection

# Every treatment and patient by number: patients in the order of their keys, the treatments of
# one patient together.
_NUMBERS = """
create or replace temp table treatment_numbers as
select
    treatment_id,
    cast(row_number() over (order by patient_id, treatment_id) - 1 as integer) as treatment_number,
    cast(dense_rank() over (order by patient_id) - 1 as integer) as patient_number
from intermediate.int_treatments_classified
"""


def coded_marts(connection: Connection, names: Iterable[str]) -> dict[str, pd.DataFrame]:
    """Return marts sorted by patient and treatment, patients as numbers, text as categories.

    A patient's number is the same in every frame and is shown nowhere: it only says which
    rows belong together, and rows that do stand together, which makes sums by patient quick.
    A column of text has the same categories in every frame, so that frames join on them; they
    are in the order of the text, but those of treatments in the order of the rows.
    """
    columns = {name: _columns(connection, name) for name in names}
    connection.execute(_NUMBERS)
    treatments = connection.execute(
        "select treatment_id from treatment_numbers order by treatment_number"
    ).df()
    labels = pd.CategoricalDtype(treatments["treatment_id"])
    _make_types(connection, columns)
    return {name: _frame(connection, name, columns[name], labels) for name in columns}


def _columns(connection: Connection, mart: str) -> dict[str, str]:
    found = connection.execute(f"describe marts.{mart}").fetchall()
    return {name: kind for name, kind, *_ in found}


def _texts(columns: dict[str, str]) -> list[str]:
    numbered = ("treatment_id", "patient_id")
    return [
        name for name, kind in columns.items() if kind == "VARCHAR" and name not in numbered
    ]


def _make_types(connection: Connection, columns: dict[str, dict[str, str]]) -> None:
    """Make one type per column of text from what stands in it in any of the marts."""
    for text in sorted({text for one in columns.values() for text in _texts(one)}):
        parts = " union ".join(
            f"select {text} from marts.{name} where {text} is not null"
            for name, one in columns.items()
            if text in one
        )
        connection.execute(f"drop type if exists text_of_{text}")
        connection.execute(
            f"create temp type text_of_{text} as enum (select {text} from ({parts}) order by 1)"
        )


def _frame(
    connection: Connection, mart: str, columns: dict[str, str], labels: pd.CategoricalDtype
) -> pd.DataFrame:
    texts = set(_texts(columns))
    shown = {name: f"cast(mart.{name} as text_of_{name})" for name in texts}
    shown |= {"treatment_id": "treatment_number", "patient_id": "patient_number"}
    selected = ", ".join(f"{shown.get(name, f'mart.{name}')} as {name}" for name in columns)
    frame = connection.execute(
        f"select {selected} from marts.{mart} as mart "
        "inner join treatment_numbers using (treatment_id) order by treatment_number, mart.rowid"
    ).df()
    treatment = pd.Categorical.from_codes(frame["treatment_id"].to_numpy(), dtype=labels)
    return frame.assign(treatment_id=treatment)
