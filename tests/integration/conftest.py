"""The demo, analysed once for every test of agreement that looks into it."""

import pytest

from folders import demo_copy
from lengthwise.report.run_data import load_run
from lengthwise.run import analyse_period, ingest_files


@pytest.fixture(scope="session")
def agreement_demo(tmp_path_factory):
    """Return the folder and the stored run of the demo dataset.

    Tests that use it belong to the group "agreement_depth", so that one worker does it once.
    """
    folder = demo_copy(tmp_path_factory.mktemp("agreement") / "demo")
    ingest_files(folder, [], {})
    run_id = analyse_period(folder, "2026-Q2")
    return folder, load_run(folder.database, run_id)
