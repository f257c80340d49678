"""A load keeps to its share of memory and spills into the folder of its run."""

from lengthwise.store import database


def test_what_passes_the_limit_goes_into_the_folder_and_is_read_again(tmp_path, monkeypatch):
    monkeypatch.setattr(database, "LOAD_MEMORY", "64MB")
    folder = tmp_path / "a folder's name"
    folder.mkdir()
    connection = database.connect(None)
    try:
        database.work_within(connection, folder)
        connection.execute("set threads = 2")  # each holds some memory of its own
        connection.execute(
            "create temp table numbers as select i, hash(i) as h from range(8000000) as n (i)"
        )
        spilled = sum(path.stat().st_size for path in folder.iterdir())
        assert spilled > 10_000_000
        (row,) = connection.execute("select sum(i), count(*) from numbers").fetchall()
        assert row == (31_999_996_000_000, 8_000_000)
    finally:
        connection.close()
    assert list(folder.iterdir()) == []
