"""A load that is killed or meets a full disk leaves all or nothing, and loads again cleanly."""

import os
import resource
import signal
import subprocess
import sys
import time

import numpy as np
import pytest

from folders import demo_copy
from lengthwise.cli import main
from lengthwise.store.database import connect

KILLS = int(os.environ.get("LENGTHWISE_KILLS", "12"))
ROWS = {"treatments": 1813, "canals": 4203, "readings": 19534}


def ingest(folder, **options):
    command = [
        sys.executable,
        "-m",
        "lengthwise",
        "--quiet",
        "ingest",
        "--folder",
        str(folder.root),
    ]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **options)


def stored(folder):
    """Return the rows of three tables of record, None where the database holds no load."""
    if not folder.database.exists():
        return None
    connection = connect(folder.database)
    try:
        tables = connection.execute(
            "select count(*) from information_schema.tables where table_schema = 'record' "
            "and table_name = 'loads'"
        ).fetchone()[0]
        if (
            not tables
            or not connection.execute("select count(*) from record.loads").fetchone()[0]
        ):
            return None
        return {
            name: connection.execute(f"select count(*) from record.{name}").fetchone()[0]
            for name in ROWS
        }
    finally:
        connection.close()


@pytest.fixture(scope="module")
def duration(tmp_path_factory):
    folder = demo_copy(tmp_path_factory.mktemp("timed") / "audit")
    start = time.perf_counter()
    assert ingest(folder).wait() == 0
    return time.perf_counter() - start


def test_killed_load_leaves_all_or_nothing(tmp_path, duration):
    rng = np.random.default_rng(20261125)
    finished = 0
    for number in range(KILLS):
        folder = demo_copy(tmp_path / f"kill-{number}" / "audit")
        process = ingest(folder)
        time.sleep(float(rng.uniform(0.3, 1.0)) * duration)
        process.send_signal(signal.SIGKILL)
        process.communicate()
        found = stored(folder)
        assert found in (None, ROWS), "a part of a load was stored"
        finished += found == ROWS
        assert main(["--quiet", "ingest", "--folder", str(folder.root)]) == 0
        assert stored(folder) == ROWS
    assert finished < KILLS, "no kill came in time to interrupt anything"


def small_files():
    resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, 400_000))


def test_full_disk_is_a_clear_error_and_loses_nothing(tmp_path):
    folder = demo_copy(tmp_path / "audit")
    process = ingest(folder, preexec_fn=small_files)
    _, said = process.communicate()
    assert process.returncode == 5
    assert b"Traceback" not in said
    assert b"free" in said
    assert stored(folder) is None
    assert main(["--quiet", "ingest", "--folder", str(folder.root)]) == 0
    assert stored(folder) == ROWS


def test_database_in_use_is_a_clear_error(tmp_path):
    folder = demo_copy(tmp_path / "audit")
    held = connect(folder.database)
    process = ingest(folder)
    _, said = process.communicate()
    held.close()
    assert process.returncode == 5
    assert b"another process has the database open" in said
