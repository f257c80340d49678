"""Recall and false alarms of the de-identification gate, by class.

Run as `python -m bench.bench_identifiers` from `tests/`.
"""

import csv
import sys
from collections import defaultdict

import pandas as pd

from folders import DEMO
from identifier_bank import BankColumn, clean_columns, identifier_columns
from lengthwise.dictionary import schema
from lengthwise.ingest.identifier_words import header_class
from lengthwise.ingest.identifiers import Column, scan
from lengthwise.store.database import connect


def found_class(connection, column: BankColumn) -> str:
    """Return the class that the gate gives a column, by its header first, or ''."""
    by_header = header_class(column.header) if not column.header.endswith("_id") else ""
    if by_header:
        return by_header
    frame = pd.DataFrame(
        {"row_number": range(1, 1 + len(column.values)), "value": column.values}
    )
    connection.register("bank", frame)
    relation = Column("bank", "select row_number, value from bank", {}, is_key=column.is_key)
    hit = scan(connection, relation)
    connection.unregister("bank")
    return hit.kind if hit else ""


def recall(connection, *, rows: int, seed: int) -> pd.DataFrame:
    """Return identifiers, caught and named rightly, by class."""
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    for column in identifier_columns(rows=rows, seed=seed):
        kind = found_class(connection, column)
        count = counts[column.kind]
        count[0] += len(column.values)
        count[1] += len(column.values) * bool(kind)
        count[2] += len(column.values) * (kind == column.kind)
    frame = pd.DataFrame(counts, index=["identifiers", "caught", "class_right"]).T
    return frame.assign(recall=frame["caught"] / frame["identifiers"])


def false_alarms(connection, *, rows: int, seed: int) -> list[BankColumn]:
    """Return the clean columns that the gate flags."""
    return [
        column
        for column in clean_columns(rows=rows, seed=seed)
        if found_class(connection, column)
    ]


def demo_alarms(connection) -> tuple[int, int]:
    """Return (columns flagged, columns) of the demo exports, every column looked through."""
    flagged = total = 0
    for path in sorted((DEMO / "exports").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as handle:
            rows = list(csv.DictReader(handle))
        for item in schema(path.stem).fields:
            if item.name not in rows[0]:
                continue
            values = [row[item.name] or "" for row in rows]
            column = BankColumn("", item.name, values, item.name.endswith("_id"))
            total += 1
            flagged += bool(found_class(connection, column))
    return flagged, total


def main(rows: int) -> None:
    """Print the tables."""
    connection = connect(None)
    frame = recall(connection, rows=rows, seed=3)
    print(frame.to_string())
    direct = frame.drop(index="free text")
    share = direct["caught"].sum() / direct["identifiers"].sum()
    print(f"direct identifiers: {direct['identifiers'].sum()}, recall {share:.4f}")
    alarms = [false_alarms(connection, rows=rows, seed=seed) for seed in range(10)]
    columns = sum(len(clean_columns(rows=rows, seed=0)) for _ in alarms)
    print(f"clean columns flagged: {sum(map(len, alarms))} of {columns}")
    print("demo columns flagged: {} of {}".format(*demo_alarms(connection)))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 50)
