"""One analysed run of the demo for every test of this folder."""

from pathlib import Path

import pytest

from lengthwise import run
from lengthwise.folder import AuditFolder
from lengthwise.report.run_data import RunData, load_run


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> AuditFolder:
    folder = run.demo_folder(Path(tmp_path_factory.mktemp("process")) / "demo")
    run.ingest_files(folder, [], {})
    run.analyse_period(folder, "2026-Q2")
    return folder


@pytest.fixture(scope="session")
def demo_run(demo: AuditFolder) -> RunData:
    return load_run(demo.database)
