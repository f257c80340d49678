"""A database of an older version is brought up whole; one of a newer version is refused."""

from pathlib import Path

import duckdb
import pytest

from folders import SMALL, folder_with, small_folder
from lengthwise.cli import main
from lengthwise.intake import ingest_files
from lengthwise.store import tables
from lengthwise.store.database import SCHEMA_VERSION, connect

SCHEMAS = sorted((Path(__file__).parent / "schemas").glob("version_*.sql"))


def old_folder(path, schema=SCHEMAS[0]):
    """Return a folder whose database a released version made, with its two loads."""
    folder = folder_with(path)
    connection = duckdb.connect(str(folder.database))
    connection.execute(schema.read_text(encoding="utf-8"))
    connection.close()
    return folder


def columns(folder):
    connection = duckdb.connect(str(folder.database), read_only=True)
    try:
        return connection.execute(
            "select schema_name, table_name, column_name, data_type, is_nullable, column_default "
            "from duckdb_columns() where schema_name in ('record', 'results') order by all"
        ).fetchall()
    finally:
        connection.close()


def rows(folder, statement):
    connection = duckdb.connect(str(folder.database), read_only=True)
    try:
        return connection.execute(statement).fetchall()
    finally:
        connection.close()


def test_there_is_a_schema_of_every_version_before_this_one():
    assert [path.stem for path in SCHEMAS] == [
        f"version_{number}" for number in range(1, SCHEMA_VERSION)
    ]


@pytest.mark.parametrize("schema", SCHEMAS, ids=lambda path: path.stem)
def test_an_older_database_becomes_what_a_new_one_is(tmp_path, schema):
    old = old_folder(tmp_path / "old", schema)
    before = rows(old, "select * from record.readings order by all")
    assert main(["loads", "--folder", str(old.root)]) == 0
    new = small_folder(tmp_path / "new")
    ingest_files(new, [], {})
    assert columns(old) == columns(new)
    assert rows(old, "select * from record.readings order by all") == before
    assert rows(old, "select max(version) from record.schema_version") == [(SCHEMA_VERSION,)]


def test_checking_against_an_older_database_leaves_it_as_it_is(tmp_path, capsys):
    folder = old_folder(tmp_path / "old")
    (folder.exports / "fills.csv").write_text(
        "treatment_id,canal,fill_level\nT1,MB,within\n", encoding="utf-8"
    )
    before = folder.database.read_bytes()
    assert main(["check", "--folder", str(folder.root)]) == 0
    assert "1 rows read, 1 accepted" in capsys.readouterr().out
    assert folder.database.read_bytes() == before


def test_its_loads_go_on_where_they_were(tmp_path, capsys):
    folder = old_folder(tmp_path / "old")
    (folder.exports / "readings.csv").write_text(
        SMALL["readings"].replace("24.0", "22.5"), encoding="utf-8"
    )
    load = ingest_files(folder, [], {}).load
    assert load.load_id == 3
    (outcome,) = load.files
    assert (outcome.superseding, outcome.unchanged) == (1, 2)
    root = str(folder.root)
    assert main(["undo", "3", "--folder", root]) == 0
    assert main(["undo", "2", "--folder", root]) == 0
    current = "select length_mm from record.readings where superseded_by is null order by 1"
    assert rows(folder, current) == [(20.5,), (21.2,), (24.0,)]
    capsys.readouterr()
    assert main(["loads", "--folder", root]) == 0
    said = capsys.readouterr().out
    assert "load 1  2026-07-01 09:00 UTC  3 files" in said
    assert "load 2  2026-07-02 09:00 UTC  taken back" in said


def test_check_looks_at_an_older_database_and_leaves_it(tmp_path, capsys):
    folder = old_folder(tmp_path / "old")
    (folder.exports / "readings.csv").write_text(SMALL["readings"], encoding="utf-8")
    (folder.exports / "fills.csv").write_text(
        "treatment_id,canal,fill_offset_mm\nT1,MB,-0.5\nT9,MB,0\n", encoding="utf-8"
    )
    before = folder.database.read_bytes()
    assert main(["--quiet", "check", "--folder", str(folder.root)]) == 1
    assert "fill.canal_unknown: fills.csv row 2" in capsys.readouterr().out
    assert folder.database.read_bytes() == before


def test_a_step_that_fails_leaves_the_older_database_as_it_was(tmp_path, monkeypatch, capsys):
    folder = old_folder(tmp_path / "old")
    before = columns(folder)

    def broken(*_):
        raise duckdb.IOException("no space")

    monkeypatch.setattr(tables, "_note_version", broken)
    assert main(["loads", "--folder", str(folder.root)]) == 5
    assert "nothing was stored" in capsys.readouterr().err
    assert columns(folder) == before
    monkeypatch.undo()
    assert main(["loads", "--folder", str(folder.root)]) == 0


@pytest.mark.parametrize(
    "command", [["ingest"], ["check"], ["analyse"], ["loads"], ["undo", "1"], ["report", "quarterly"]]
)  # fmt: skip
def test_a_newer_database_is_refused_by_every_command(tmp_path, capsys, command):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    connection = connect(folder.database)
    connection.execute("insert into record.schema_version values (99)")
    connection.close()
    before = folder.database.read_bytes()
    assert main(["--quiet", *command, "--folder", str(folder.root)]) == 5
    said = capsys.readouterr().err
    assert "made by a newer version of lengthwise" in said
    assert "install that version" in said
    assert folder.database.read_bytes() == before
