"""What the data-quality page counts, taken from the tables that judging a load leaves.

Everything is counted by the database engine; rows that were set aside are not in the counts,
they are in the findings.
"""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pandas as pd

from lengthwise.check.judge import JudgedFile
from lengthwise.dictionary import Field, Schema
from lengthwise.store.database import Connection, fetch
from lengthwise.store.queries import query

if TYPE_CHECKING:
    from lengthwise.statistics.process.heaping import Heaping

# Beyond the quartiles by this many times their distance: far out for any shape of column.
FENCE = 3


@dataclass(frozen=True, slots=True)
class Quality:
    """The counts behind the page, one frame per table.

    `fields` has one row per field of the exports read; `coverage` one per clinician and method;
    `late` one per export and number of quarters; `digits` one result per series of lengths.
    """

    fields: pd.DataFrame = field(default_factory=pd.DataFrame)
    coverage: pd.DataFrame = field(default_factory=pd.DataFrame)
    late: pd.DataFrame = field(default_factory=pd.DataFrame)
    digits: "dict[str, Heaping]" = field(default_factory=dict)
    has_stored_rows: bool = False


def measure(
    connection: Connection, judged: list[JudgedFile], schemas: dict[str, Schema]
) -> Quality:
    """Return the quality of the rows that a load would store; needs its temporary tables."""
    from lengthwise.statistics.process.heaping import heaping  # loads would wait for it

    read = {item.source.export for item in judged}
    parts = [_fields(connection, export) for name, export in schemas.items() if name in read]
    lengths = fetch(connection, query("quality", "lengths_read"))
    stored = connection.execute("select count(*) from current_treatments").fetchall()
    return Quality(
        fields=pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(),
        coverage=fetch(connection, query("quality", "method_coverage")),
        late=fetch(connection, query("quality", "late_entries")),
        digits={
            str(name): heaping(own.to_numpy(dtype=float))
            for name, own in lengths.groupby("series")["value_mm"]
        },
        has_stored_rows=bool(stored[0][0]),
    )


def _is_measure(item: Field) -> bool:
    """Return whether a column holds a quantity, of which a value can lie far from the others.

    Days come in heaps about the months at which reviews are due, so none is far out.
    """
    return item.type in ("number", "integer") and item.unit not in ("", "days")


def _fields(connection: Connection, export: Schema) -> pd.DataFrame:
    """Return, by field of an export: rows, rows with a value, values far from the others."""
    stored = export.stored
    measures = [item.name for item in stored if _is_measure(item)]
    quarters = ", ".join(f"quantile_cont({name}, [0.25, 0.75]) as {name}" for name in measures)
    far = {
        name: f"count(*) filter (where fence.{name}[2] > fence.{name}[1] and greatest("
        f"fence.{name}[1] - loading.{name}, loading.{name} - fence.{name}[2]) "
        f"> {FENCE} * (fence.{name}[2] - fence.{name}[1]))"
        for name in measures
    }
    counts = ", ".join(
        f"count(loading.{item.name}), {far.get(item.name, 'null')}" for item in stored
    )
    table = f"loading_{export.name}"
    total, *cells = connection.execute(
        f"select count(*), {counts} from {table} as loading "
        f"cross join (select {quarters or 'true as nothing'} from {table}) as fence"
        if measures
        else f"select count(*), {counts} from {table} as loading"
    ).fetchall()[0]
    return pd.DataFrame(
        {
            "export": export.name,
            "field": [item.name for item in stored],
            "title": [item.title for item in stored],
            "is_required": [item.required for item in stored],
            "rows": total,
            "present": cells[::2],
            "far": cells[1::2],
        }
    )
