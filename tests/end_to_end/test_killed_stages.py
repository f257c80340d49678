"""A derivation or an analysis that is killed leaves every stored row and every finished run."""

import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from folders import ROOT
from lengthwise.cli import main
from lengthwise.folder import AuditFolder
from lengthwise.store.database import connect

KILLS = int(os.environ.get("LENGTHWISE_KILLS", "1"))


@dataclass(frozen=True)
class Stage:
    """A command, and the progress lines between which it is to be killed."""

    words: tuple[str, ...]
    starts: str
    ends: str


# A command that makes files of stored results can be added here with its own progress lines.
STAGES = {
    "derive": Stage(("analyse",), "deriving tables", "flow of cases"),
    "analyse": Stage(("analyse",), "flow of cases", "Run "),
}


def start(folder, stage):
    command = [
        sys.executable,
        "-u",
        "-m",
        "lengthwise",
        *stage.words,
        "--folder",
        str(folder.root),
    ]
    return subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )


def finish(folder, *words):
    process = start(folder, Stage(words, "", ""))
    process.communicate()
    return process.returncode


def wait_for(process, words):
    """Read what the process says until a line holds the words; return the moment."""
    for line in process.stdout:
        if words in line:
            return time.perf_counter()
    raise AssertionError(f"the process never said {words!r}")


def content(folder):
    """Return every row of record and results, run by run for the latter."""
    connection = connect(folder.database, read_only=True)
    try:
        found = {
            name: connection.execute(f"select * from record.{name} order by all").fetchall()
            for name in (
                "treatments",
                "canals",
                "readings",
                "fills",
                "follow_ups",
                "load_files",
            )
        }
        runs = connection.execute("select run_id, period from results.runs").fetchall()
        for run_id, period in runs:
            for name in ("estimates", "points", "lists"):
                found[period, name] = connection.execute(
                    f"select * from results.{name} where run_id = $id order by all",
                    {"id": run_id},
                ).fetchall()
        return found
    finally:
        connection.close()


@pytest.fixture(scope="module")
def before(tmp_path_factory):
    """Return a folder with a small part of the demo and a finished run of an earlier quarter."""
    folder = AuditFolder(tmp_path_factory.mktemp("killed") / "audit")
    assert main(["--quiet", "new", str(folder.root)]) == 0
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT))
        from demo_dataset.generate import generate

        generate(folder.root / "made", scale=0.04)
    for path in (folder.root / "made" / "exports").iterdir():
        shutil.move(path, folder.exports / path.name)
    assert main(["--quiet", "ingest", "--folder", str(folder.root)]) == 0
    assert finish(folder, "analyse", "2025-Q1") == 0
    return folder


@pytest.fixture(scope="module")
def undisturbed(before, tmp_path_factory):
    """Return what a run that nobody kills leaves, and how long each stage takes."""
    root = tmp_path_factory.mktemp("undisturbed") / "audit"
    shutil.copytree(before.root, root)
    folder = AuditFolder(root)
    process = start(folder, STAGES["derive"])
    first = wait_for(process, STAGES["derive"].starts)
    second = wait_for(process, STAGES["analyse"].starts)
    last = wait_for(process, STAGES["analyse"].ends)
    process.communicate()
    return content(folder), {"derive": second - first, "analyse": last - second}


def test_killed_stages_leave_all_that_was_stored_and_run_again(tmp_path, before, undisturbed):
    whole, durations = undisturbed
    stored = content(before)
    assert stored != whole
    rng = np.random.default_rng(20261125)
    folder = AuditFolder(Path(shutil.copytree(before.root, tmp_path / "audit")))
    interrupted = 0
    for name, stage in STAGES.items():
        for _ in range(KILLS):
            process = start(folder, stage)
            wait_for(process, stage.starts)
            time.sleep(float(rng.uniform(0, 0.9)) * durations[name])
            process.send_signal(signal.SIGKILL)
            process.communicate()
            found = content(folder)
            assert found in (stored, whole), (
                f"{name}: a part of a run was stored, or a row lost"
            )
            interrupted += found == stored
        assert interrupted, f"{name}: no kill came in time to interrupt anything"
    assert finish(folder, *STAGES["analyse"].words) == 0
    assert content(folder) == whole
