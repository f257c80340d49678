"""The demo, run once as a newcomer runs it; modules that use it share one worker."""

import contextlib
import io
from dataclasses import dataclass
from pathlib import Path

import pytest

from faults.bases import analysed_before
from lengthwise.cli import main
from lengthwise.folder import AuditFolder


@dataclass(frozen=True)
class Demo:
    """The audit folder of the demo, and what the command printed."""

    folder: AuditFolder
    said: str

    @property
    def place(self) -> Path:
        return self.folder.reports("2026-Q2").parent


@pytest.fixture(scope="session")
def whole_demo(tmp_path_factory):
    root = tmp_path_factory.mktemp("demo") / "audit"
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        assert main(["--quiet", "demo", str(root)]) == 0
    return Demo(AuditFolder(root), said.getvalue())


@pytest.fixture(scope="session")
def analysed_folder(tmp_path_factory):
    """Return a small folder with a load and a run of an earlier quarter; copy it to change it."""
    return analysed_before(tmp_path_factory.mktemp("small") / "audit")
