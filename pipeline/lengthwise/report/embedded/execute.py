"""Run the cells of a document in one kernel of this very Python."""

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from lengthwise.errors import ReportError
from lengthwise.report.embedded.source import Cell

SECONDS_AT_MOST = 600
OWN_ERRORS = {"ReportError", "StoreError", "SettingsError", "AnalysisError", "UnreadableError"}


def execute(cells: list[Cell], folder: Path) -> list[list[Any]]:
    """Return the outputs of every cell, run in order with `folder` as working directory.

    Raises
    ------
    ReportError
        A cell failed; the message holds its label and the class of the error, and the
        error's own text only where it is one of ours (others may quote rows).
    """
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError
    from nbformat import v4

    notebook = v4.new_notebook(cells=[v4.new_code_cell(cell.code) for cell in cells])
    with _kernel_manager() as manager:
        client = NotebookClient(
            notebook,
            km=manager,
            timeout=SECONDS_AT_MOST,
            resources={"metadata": {"path": str(folder)}},
        )
        try:
            # The kernel's own notes (not the cells') go nowhere: they can quote anything.
            client.execute(env=_environment(manager.runtime_folder), stderr=subprocess.DEVNULL)
        except CellExecutionError as failure:
            label = cells[_failed(notebook)].label
            raise ReportError(failure_message(label, failure.ename, failure.evalue)) from None
        except (CellTimeoutError, DeadKernelError):
            raise ReportError(
                f"The report stopped: its Python ended or took more than {SECONDS_AT_MOST} s."
            ) from None
    return [list(cell["outputs"]) for cell in notebook.cells]


def _failed(notebook: Any) -> int:
    for index, cell in enumerate(notebook.cells):
        if any(output["output_type"] == "error" for output in cell["outputs"]):
            return index
    return len(notebook.cells) - 1


def failure_message(label: str, name: str, text: str) -> str:
    """Return what is said of a failed cell; text of errors not ours may quote rows."""
    if name in OWN_ERRORS:
        return f"The report's cell '{label}' stopped: {text}"
    return f"The report's cell '{label}' stopped with {name}."


def _environment(runtime_folder: Path) -> dict[str, str]:
    """Keep the kernel from drawing on a screen and from writing into the user's home."""
    return os.environ | {
        "MPLBACKEND": "Agg",
        "IPYTHONDIR": str(runtime_folder),
        "LENGTHWISE_REPORT_ENGINE": "embedded",
    }


@contextmanager
def _kernel_manager() -> Iterator[Any]:
    """Yield a manager whose kernel is `sys.executable`, whatever kernels are installed.

    Sockets lie in a private short-lived folder rather than on network ports: several
    reports start at the same time and would race for the ports.
    """
    from jupyter_client.kernelspec import KernelSpec
    from jupyter_client.manager import AsyncKernelManager

    class ThisPython(AsyncKernelManager):
        runtime_folder: Path

        @property
        def kernel_spec(self) -> KernelSpec:
            return specification

    runtime_folder = Path(tempfile.mkdtemp(prefix="lw-"))
    specification = KernelSpec(
        argv=[
            *(sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"),
            "--HistoryManager.enabled=False",
        ],
        display_name="Python",
        language="python",
    )
    manager = ThisPython(connection_file=str(runtime_folder / "kernel.json"))
    if os.name == "posix":
        manager.transport = "ipc"
        manager.ip = str(runtime_folder / "socket")
    manager.runtime_folder = runtime_folder
    try:
        yield manager
    finally:
        shutil.rmtree(runtime_folder, ignore_errors=True)
