"""The temporary tables and views that judging a load works in."""

from typing import Any

SCRATCH_TABLES = """
create or replace temp table load_findings (
    file_number integer, row_number bigint, export varchar, column_name varchar, code varchar,
    severity varchar
);
create or replace temp table load_quarantine (
    file_number integer, row_number bigint, export varchar, row_values varchar
);
create or replace temp table load_rejected (export varchar, file_number integer, row_number bigint);
"""
# The tooth of every treatment, from this load or an earlier one, for the rules of sql/checks. A
# treatment in both stands twice: the rows that a rule finds are made distinct anyway.
KNOWN_TEETH = """
create or replace temp view known_teeth as
select treatment_id, tooth from loading_treatments
union all
select treatment_id, cast(tooth as varchar) from current_treatments
"""


def make_limits(connection: Any, limits_mm: dict[str, float]) -> None:
    """Make what the rules of sql/checks read from the start: teeth, and limits in mm."""
    connection.execute(KNOWN_TEETH)
    columns = ", ".join(f"cast(${name} as double) as {name}" for name in limits_mm)
    connection.execute(
        f"create or replace temp table check_limits as select {columns}", limits_mm
    )


# Each file reads the ones before it. Those of rows as they are stay views: they are as long as
# the files, and no table of them is needed.
_ORDER = (
    "known_canals", "earlier_readings", "known_readings", "known_treatments", "canals_apart",
    "readings_apart", "swapped_readings",
)  # fmt: skip


def make_tables(connection: Any, files: list[Any]) -> None:
    """Make the views and tables of sql/scratch, once errors are known."""
    for item in sorted(files, key=lambda file: _ORDER.index(file.name)):
        kind = "view" if item.name.startswith("known_") else "table"
        connection.execute(f"create or replace temp {kind} {item.name} as {item.text}")
