"""A load is taken back whole, or refused with the load that stands on it."""

from datetime import UTC, datetime

import pytest

from folders import SMALL, small_folder
from lengthwise.cli import main
from lengthwise.errors import StoreError
from lengthwise.intake import ingest_files
from lengthwise.store.database import connect
from lengthwise.store.undo import undo_load


def content(folder):
    connection = connect(folder.database, read_only=True)
    try:
        tables = connection.execute(
            "select table_name from duckdb_tables() where schema_name = 'record' order by all"
        ).fetchall()
        return {
            name: connection.execute(f"select * from record.{name} order by all").fetchall()
            for (name,) in tables
            if name not in ("loads", "load_files", "undone_loads")
        }
    finally:
        connection.close()


def undone(folder, load_id):
    connection = connect(folder.database)
    try:
        return undo_load(connection, load_id)
    finally:
        connection.close()


def corrected(folder, value="23.0"):
    path = folder.exports / "readings.csv"
    path.write_text(
        SMALL["readings"].replace("24.0", value) + "T1,P,film,215\n", encoding="utf-8"
    )
    return ingest_files(folder, [], {}).load.load_id


def test_undoing_a_correction_brings_the_earlier_rows_back(tmp_path):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    before = content(folder)
    second = corrected(folder)
    assert content(folder) != before
    result = undone(folder, second)
    assert (result.rows_removed, result.rows_restored) == (1, 1)
    assert content(folder) == before
    assert corrected(folder) == second + 1


def test_undoing_the_only_load_leaves_nothing_and_it_loads_again(tmp_path):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    before = content(folder)
    undone(folder, 1)
    assert not any(content(folder)[name] for name in ("treatments", "canals", "readings"))
    assert ingest_files(folder, [], {}).load.load_id == 2
    again = content(folder)
    for name in ("treatments", "canals", "readings"):
        # The four last columns: load, file, row, superseded by.
        assert [row[:-4] + row[-3:] for row in again[name]] == [
            row[:-4] + row[-3:] for row in before[name]
        ]


def test_undo_leaves_who_when_and_what_and_the_number_is_never_used_again(
    tmp_path, capsys, monkeypatch
):
    monkeypatch.setattr("getpass.getuser", lambda: "front-desk")
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    second = corrected(folder)
    undone(folder, second)
    connection = connect(folder.database, read_only=True)
    (note,) = connection.execute(
        "select load_id, undone_by, file_names, rows_read, rows_accepted, rows_quarantined, "
        "rows_removed, rows_restored from record.undone_loads"
    ).fetchall()
    (at,) = connection.execute("select undone_at from record.undone_loads").fetchone()
    connection.close()
    assert note == (second, "front-desk", "readings.csv", 4, 3, 1, 1, 1)
    assert abs((datetime.now(UTC).replace(tzinfo=None) - at).total_seconds()) < 60
    third = corrected(folder)
    assert third == second + 1
    undone(folder, third)
    assert main(["loads", "--folder", str(folder.root)]) == 0
    said = capsys.readouterr().out.splitlines()
    assert [line[:6] for line in said if line.startswith("load ")] == [
        "load 1",
        "load 2",
        "load 3",
    ]
    assert sum("taken back" in line and "by front-desk" in line for line in said) == 2


def test_a_load_that_was_corrected_later_is_refused(tmp_path):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    corrected(folder)
    before = content(folder)
    with pytest.raises(StoreError, match="undo load 2 first"):
        undone(folder, 1)
    assert content(folder) == before


def test_a_load_whose_treatments_have_later_readings_is_refused(tmp_path):
    folder = small_folder(tmp_path / "audit")
    readings = folder.exports / "readings.csv"
    text = readings.read_text(encoding="utf-8")
    readings.unlink()
    ingest_files(folder, [], {})
    readings.write_text(text, encoding="utf-8")
    ingest_files(folder, [], {})
    before = content(folder)
    with pytest.raises(StoreError, match="readings of load 2 belong"):
        undone(folder, 1)
    assert content(folder) == before


def test_commands_list_and_take_back(tmp_path, capsys):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    root = str(folder.root)
    assert main(["loads", "--folder", root]) == 0
    assert "load 1" in capsys.readouterr().out
    assert main(["undo", "1", "--folder", root]) == 0
    assert "8 rows removed" in capsys.readouterr().out
    assert main(["undo", "1", "--folder", root]) == StoreError.exit_code
    assert "there is no load 1" in capsys.readouterr().err
