"""Run the cells of a document in this process, where it is a process for that document alone.

A kernel starts Python anew and loads every library; a worker that was split off from a
prepared process has them. Working folder, environment and drawing state belong to the
process, so the caller must give each document one of its own.
"""

import ast
import io
import os
from contextlib import chdir, redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

from lengthwise.errors import ReportError
from lengthwise.report.embedded.source import Cell


def only_prints(cells: list[Cell]) -> bool:
    """Return whether the cells show nothing but what they print.

    A cell that ends in a value shows it through a kernel's display, which is not here.
    """
    return not any(_ends_in_value(cell.code) for cell in cells)


def _ends_in_value(code: str) -> bool:
    body = ast.parse(code).body
    if not body or not isinstance(body[-1], ast.Expr):
        return False
    call = body[-1].value
    is_print = isinstance(call, ast.Call) and getattr(call.func, "id", "") == "print"
    return not is_print


def run_cells(cells: list[Cell], folder: Path) -> list[list[Any]]:
    """Return the outputs of every cell, in the form of a kernel's.

    Raises
    ------
    ReportError
        As from the kernel: the label of the cell, and an error's text only if it is ours.
    """
    from lengthwise.report.embedded.execute import failure_message

    os.environ |= {"MPLBACKEND": "Agg", "LENGTHWISE_REPORT_ENGINE": "embedded"}
    names: dict[str, Any] = {"__name__": "__main__"}
    outputs = []
    with chdir(folder):
        for cell in cells:
            printed = io.StringIO()
            try:
                # Warnings go nowhere, as with the kernel: they can quote anything.
                with redirect_stdout(printed), redirect_stderr(io.StringIO()):
                    exec(compile(cell.code, f"<{cell.label}>", "exec"), names)
            except Exception as failure:  # noqa: BLE001 - whatever a cell raises is told by name
                message = failure_message(cell.label, type(failure).__name__, str(failure))
                raise ReportError(message) from None
            text = printed.getvalue()
            stream = {"output_type": "stream", "name": "stdout", "text": text}
            outputs.append([stream] if text else [])
    return outputs
