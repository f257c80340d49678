"""Gives rows the numbers that they have in the file that the user has in hand."""

from typing import Any

import pandas as pd

from lengthwise.check.judge import JudgedFile


def own_row_numbers(connection: Any, judged: list[JudgedFile]) -> None:
    """Renumber the findings and rows set aside of tables that were made from a user's file.

    Leaves the temp table `own_rows`: row number here and row number in the user's file.
    """
    frame = pd.DataFrame(
        [
            (item.file_number, here, own)
            for item in judged
            for here, own in enumerate(item.source.row_numbers, start=1)
        ],
        columns=["file_number", "row_number", "own_row_number"],
    ).astype("int64")
    connection.register("own_rows_made", frame)
    connection.execute("create or replace temp table own_rows as select * from own_rows_made")
    connection.unregister("own_rows_made")
    for table in ("load_findings", "load_quarantine"):
        connection.execute(
            f"update {table} as found set row_number = own.own_row_number from own_rows as own "
            "where found.file_number = own.file_number and found.row_number = own.row_number"
        ).fetchall()
