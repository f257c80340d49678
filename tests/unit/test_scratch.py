"""Scratch goes with its run, at the latest with the next; files reach their place whole."""

import os
import tempfile

import pytest

from faults.processes import dead_process
from lengthwise.scratch import file_beside, scratch_folder, write_whole


def test_scratch_of_a_killed_run_goes_and_that_of_others_stays(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    left = [
        f"lengthwise-{dead_process()}-a1b2",
        f"lengthwise-{os.getppid()}-a1b2",
        "lengthwise-mine",
    ]
    for name in left:
        (tmp_path / name).mkdir()
        (tmp_path / name / "rows.csv").write_text("T1,P1\n", encoding="utf-8")
    with scratch_folder() as made:
        assert made.parent == tmp_path
        assert made.stat().st_mode & 0o077 == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(left[1:])


def test_a_file_holds_the_old_text_or_all_of_the_new(tmp_path):
    place = tmp_path / "list.json"
    write_whole(place, "old")
    with pytest.raises(UnicodeEncodeError):
        write_whole(place, "new" * 100_000 + "\udc80")
    assert place.read_text() == "old"
    write_whole(place, "new")
    assert (place.read_text(), [path.name for path in tmp_path.iterdir()]) == (
        "new",
        ["list.json"],
    )


def test_what_a_killed_run_left_beside_a_file_goes_with_the_next(tmp_path):
    dead, alive = dead_process(), os.getppid()
    names = [
        f".a.json.new-{dead}-00ff",
        f".a.json.new-{alive}-00ff",
        f".b.json.new-{dead}-00ff",
    ]
    for name in names:
        (tmp_path / name).write_text("half", encoding="utf-8")
    with file_beside(tmp_path / "a.json") as made:
        assert made.parent == tmp_path
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(names[1:])
