"""Gives findings the row numbers of the file that the user has in hand."""

from typing import Any

from lengthwise.check.judge import JudgedFile


def own_row_numbers(connection: Any, judged: list[JudgedFile]) -> None:
    """Renumber the findings and rows set aside of tables that were made from a user's file."""
    for item in judged:
        if not item.source.row_numbers:
            continue
        for table in ("load_findings", "load_quarantine"):
            connection.execute(
                f"update {table} set row_number = list_extract($numbers, row_number) "
                "where file_number = $file",
                {"numbers": list(item.source.row_numbers), "file": item.file_number},
            ).fetchall()
