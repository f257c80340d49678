"""Recall and false alarms of the de-identification gate, by class."""

import csv
from collections import defaultdict
from collections.abc import Iterator

import pandas as pd

from folders import DEMO
from identifier_bank import BankColumn, clean_columns, identifier_columns
from lengthwise.dictionary import schema
from lengthwise.ingest.identifier_words import header_class
from lengthwise.ingest.identifiers import Column, scan
from lengthwise.store.database import connect

DATES = ("treatment_date", "review_date", "period")
FIELDS = ("_id", "_date", "period")


def found_class(connection, column: BankColumn) -> str:
    """Return the class that the gate gives a column, by its header first, or ''."""
    by_header = header_class(column.header) if not column.header.endswith(FIELDS) else ""
    if by_header:
        return by_header
    frame = pd.DataFrame(
        {"row_number": range(1, 1 + len(column.values)), "value": column.values}
    )
    connection.register("bank", frame)
    relation = Column(
        "bank", "select row_number, value from bank", {}, is_key=column.is_key,
        is_patient=column.header == "patient_id", is_site=column.header == "site_id",
        is_date=column.header in DATES,
    )  # fmt: skip
    hit = scan(connection, relation)
    connection.unregister("bank")
    return hit.kind if hit else ""


def recall(connection, *, rows: int, seed: int, lone: int = 5) -> pd.DataFrame:
    """Return identifiers, caught and named rightly, by class."""
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    for column in identifier_columns(rows=rows, seed=seed, lone=lone):
        kind = found_class(connection, column)
        count = counts[column.kind]
        count[0] += column.n_identifiers
        count[1] += column.n_identifiers * bool(kind)
        count[2] += column.n_identifiers * (kind == column.kind)
    frame = pd.DataFrame(counts, index=["identifiers", "caught", "class_right"]).T
    return frame.assign(recall=frame["caught"] / frame["identifiers"])


def false_alarms(connection, *, rows: int, seed: int) -> list[BankColumn]:
    """Return the clean columns that the gate flags."""
    return [
        column
        for column in clean_columns(rows=rows, seed=seed)
        if found_class(connection, column)
    ]


def demo_alarms(connection) -> tuple[int, int, int, int]:
    """Return (columns flagged, columns, rows flagged, rows) of the demo exports."""
    flagged = total = rows_flagged = n_rows = 0
    for path in sorted((DEMO / "exports").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as handle:
            rows = list(csv.DictReader(handle))
        n_rows += len(rows)
        for item in schema(path.stem).fields:
            if item.name not in rows[0]:
                continue
            values = [row[item.name] or "" for row in rows]
            is_key = item.name.endswith("_id") and item.name != "site_id"
            found = bool(found_class(connection, BankColumn("", item.name, values, is_key)))
            total += 1
            flagged += found
            rows_flagged += found * len(rows)
    return flagged, total, rows_flagged, n_rows


def run(rows: int = 50) -> Iterator[dict[str, object]]:
    """Yield the rows of the table."""
    connection = connect(None)
    frame = recall(connection, rows=rows, seed=3)
    for kind, row in frame.iterrows():
        yield {"class": kind, **{name: f"{row[name]:g}" for name in frame.columns}}
    direct = frame.drop(index="free text")
    share = direct["caught"].sum() / direct["identifiers"].sum()
    yield {"class": "direct identifiers", "identifiers": int(direct["identifiers"].sum()),
           "recall": f"{share:.4f}"}  # fmt: skip
    banks = [clean_columns(rows=rows, seed=seed) for seed in range(10)]
    alarms = sum(len(false_alarms(connection, rows=rows, seed=seed)) for seed in range(10))
    yield {"clean columns flagged": alarms, "of": sum(map(len, banks))}
    flagged, total, rows_flagged, n_rows = demo_alarms(connection)
    yield {"demo columns flagged": flagged, "of columns": total, "rows flagged": rows_flagged,
           "of rows": n_rows}  # fmt: skip
    connection.close()
