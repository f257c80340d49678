"""What a load cannot finish because it is killed, the next one does; a database begins whole."""

import os

import pytest

from faults.processes import dead_process
from folders import SMALL, small_folder, stored_records
from lengthwise import intake
from lengthwise.cli import main
from lengthwise.intake import ingest_files
from lengthwise.store.database import connect

FAULTY = SMALL["readings"] + "T1,MB,film,999\n"


class Killed(BaseException):
    """Stands for the end of the process; nothing of ours catches it."""


def stopped_before(monkeypatch, name, *, calls):
    """Let a function of the intake end the process in place of one of its calls."""
    whole, seen = getattr(intake, name), []

    def stop(*arguments):
        seen.append(name)
        if len(seen) == calls:
            raise Killed
        return whole(*arguments)

    monkeypatch.setattr(intake, name, stop)


def rows_to_mend(folder):
    return sorted(path.name for path in folder.quarantine.glob("*.csv"))


def test_rows_set_aside_by_a_load_that_was_killed_come_with_the_next(
    tmp_path, monkeypatch, capsys
):
    folder = small_folder(tmp_path / "audit", readings=FAULTY)
    with monkeypatch.context() as patch:
        stopped_before(patch, "write_announced", calls=2)
        with pytest.raises(Killed):
            ingest_files(folder, [], {})
    assert rows_to_mend(folder) == []
    assert len(stored_records(folder, ["readings"])["readings"]) == 3
    assert main(["--quiet", "ingest", "--folder", str(folder.root)]) == 0
    said = capsys.readouterr().out
    assert "already loaded, nothing changed" in said
    assert "Rows to mend: 1 file" in said
    assert rows_to_mend(folder) == ["readings-load-0001-file-2.csv"]


def test_rows_announced_for_a_load_that_was_never_stored_are_forgotten(tmp_path, monkeypatch):
    folder = small_folder(tmp_path / "audit", readings=FAULTY)
    with monkeypatch.context() as patch:
        stopped_before(patch, "store_load", calls=1)
        with pytest.raises(Killed):
            ingest_files(folder, [], {})
    (folder.exports / "readings.csv").write_text(SMALL["readings"], encoding="utf-8")
    assert ingest_files(folder, [], {}).load.load_id == 1
    assert rows_to_mend(folder) == []


def test_a_file_that_was_mended_and_taken_away_does_not_come_back(tmp_path):
    folder = small_folder(tmp_path / "audit", readings=FAULTY)
    (written,) = ingest_files(folder, [], {}).quarantine_files
    written.unlink()
    assert ingest_files(folder, [], {}).quarantine_files == ()
    assert rows_to_mend(folder) == []


def test_a_database_that_was_cut_short_in_its_making_is_in_nobodys_way(tmp_path):
    folder = small_folder(tmp_path / "audit")
    left = folder.root / f".audit.duckdb.new-{dead_process()}-00ff"
    left.write_bytes(b"\0" * 4096)
    ingest_files(folder, [], {})
    assert not left.exists()
    assert len(stored_records(folder, ["readings"])["readings"]) == 3


def test_a_database_begins_whole_where_files_can_have_one_name_only(tmp_path, monkeypatch):
    def refused(*_):
        raise PermissionError

    monkeypatch.setattr(os, "link", refused)
    connect(tmp_path / "audit.duckdb").close()
    assert [path.name for path in tmp_path.iterdir()] == ["audit.duckdb"]


def test_a_database_that_another_process_makes_meanwhile_stays(tmp_path, monkeypatch):
    place = tmp_path / "audit.duckdb"
    link = os.link

    def late(made, path):
        link(made, path)
        connection = connect(path)
        connection.execute("create table first as select 1 as number")
        connection.close()
        link(made, path)

    monkeypatch.setattr(os, "link", late)
    connection = connect(place)
    assert connection.execute("select number from first").fetchall() == [(1,)]
    connection.close()
    assert [path.name for path in tmp_path.iterdir()] == ["audit.duckdb"]
