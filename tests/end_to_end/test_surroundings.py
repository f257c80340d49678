"""Two loads at once, folders without rights, other clocks and time zones: nothing is lost."""

import ctypes
import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest

from folders import SMALL, small_folder
from lengthwise.cli import main
from lengthwise.intake import ingest_files
from lengthwise.store import load as load_module
from lengthwise.store import results as results_module
from lengthwise.store.database import connect
from lengthwise.store.results import read_run, write_run

COMMAND = [sys.executable, "-m", "lengthwise", "--quiet"]
DROP_CAPABILITY, IGNORES_RIGHTS = 24, 1  # PR_CAPBSET_DROP and CAP_DAC_OVERRIDE of Linux


def start(folder, *words, **options):
    command = [*COMMAND, *map(str, words), "--folder", str(folder.root)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **options)


def rows(folder, statement):
    connection = connect(folder.database, read_only=True)
    try:
        return connection.execute(statement).fetchall()
    finally:
        connection.close()


def many_readings(first, count):
    head = "treatment_id,canal,method,observer_id,length_mm\n"
    lines = (f"T1,MB,electronic,A{number},20.5\n" for number in range(first, first + count))
    return head + "".join(lines)


def test_two_loads_at_once_lose_nothing_and_the_second_is_told(tmp_path):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    files = []
    for first in (0, 5_000):
        files.append(folder.exports / f"readings-{first}.csv")
        files[-1].write_text(many_readings(first, 5_000), encoding="utf-8")
    pending = files
    for _ in range(5):
        running = [(path, start(folder, "ingest", path)) for path in pending]
        pending = []
        for path, process in running:
            _, said = process.communicate()
            assert process.returncode in (0, 5), said
            if process.returncode == 5:
                assert b"another process has the database open" in said
                pending.append(path)
        if not pending:
            break
    assert pending == []
    assert rows(folder, "select count(*) from record.readings") == [(10_003,)]
    assert rows(folder, "select load_id from record.loads order by 1") == [(1,), (2,), (3,)]


@pytest.mark.parametrize("words", [["ingest"], ["analyse"], ["undo", "1"]])
def test_a_database_in_use_is_a_clear_error(tmp_path, words):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    held = connect(folder.database)
    process = start(folder, *words)
    _, said = process.communicate()
    held.close()
    assert process.returncode == 5
    assert b"another process has the database open" in said


def obey_rights():
    """Let the account with all rights obey those of files, as every other account does."""
    if os.geteuid() == 0:
        ctypes.CDLL(None).prctl(DROP_CAPABILITY, IGNORES_RIGHTS, 0, 0, 0)


@pytest.fixture
def without_rights(tmp_path):
    """Yield a folder that holds a stored load and may only be read."""
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    (folder.exports / "canals.csv").write_text(SMALL["canals"] + "T2,MB,20\n", encoding="utf-8")
    for path in [folder.root, *folder.root.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    yield folder
    for path in [folder.root, *folder.root.rglob("*")]:
        path.chmod(0o755 if path.is_dir() else 0o644)


def test_a_folder_that_may_only_be_read_is_told_plainly_and_stays(without_rights):
    folder = without_rights
    before = {path: path.read_bytes() for path in folder.root.rglob("*") if path.is_file()}
    for words in (["ingest"], ["undo", "1"], ["analyse"]):
        process = start(folder, *words, preexec_fn=obey_rights)
        _, said = process.communicate()
        assert process.returncode == 5, (words, said)
        assert b"rights" in said
        assert b"Traceback" not in said
    process = start(folder, "loads", preexec_fn=obey_rights)
    out, said = process.communicate()
    assert (process.returncode, b"load 1" in out) == (0, True), said
    process = start(folder, "check", preexec_fn=obey_rights)
    out, said = process.communicate()
    assert process.returncode == 1, said
    assert b"Data-quality page not written" in out
    after = {path: path.read_bytes() for path in folder.root.rglob("*") if path.is_file()}
    assert after == before


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Etc/GMT+12"])
def test_times_are_utc_and_months_are_those_of_the_file_in_every_zone(tmp_path, zone):
    treatments = SMALL["treatments"].replace("period", "treatment_date")
    treatments = treatments.replace("2026-01", "2026-01-31").replace("2026-02", "2026-02-01")
    folder = small_folder(tmp_path / "audit", treatments=treatments)
    process = start(folder, "ingest", env={**os.environ, "TZ": zone})
    _, said = process.communicate()
    assert process.returncode == 0, said
    ((at,),) = rows(folder, "select loaded_at from record.loads")
    assert abs(datetime.now(UTC).replace(tzinfo=None) - at) < timedelta(minutes=5)
    assert rows(folder, "select period from record.treatments order by 1") == [
        ("2026-01",), ("2026-02",),
    ]  # fmt: skip


class Clock(datetime):
    """A clock that somebody set back by ten years."""

    @classmethod
    def now(cls, zone=None):
        return datetime.now(zone) - timedelta(days=3650)


def test_a_clock_that_goes_back_changes_no_order(tmp_path, monkeypatch, capsys):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    connection = connect(folder.database)
    nothing = {"estimates": [], "points": [], "lists": []}
    write_run(connection, "first", "2026-Q1", {}, [], {}, nothing)
    monkeypatch.setattr(load_module, "datetime", Clock)
    monkeypatch.setattr(results_module, "datetime", Clock)
    write_run(connection, "second", "2026-Q1", {}, [], {}, nothing)
    connection.close()
    (folder.exports / "readings.csv").write_text(
        SMALL["readings"].replace("24.0", "23.0"), encoding="utf-8"
    )
    assert ingest_files(folder, [], {}).load.load_id == 2
    times = rows(folder, "select loaded_at from record.loads order by load_id")
    assert times[1] < times[0]
    assert rows(
        folder,
        "select length_mm from record.readings where superseded_by is null and method = 'film'",
    ) == [(23.0,)]
    assert read_run(folder.database)["run"]["run_id"] == "second"
    assert main(["loads", "--folder", str(folder.root)]) == 0
    said = capsys.readouterr().out
    assert said.index("load 1 ") < said.index("load 2 ")
