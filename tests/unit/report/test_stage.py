"""Files reach their place together or not at all, and what others put there stays."""

import json
import os

import pytest

from faults.processes import dead_process
from lengthwise.report.pack_manifest import listed, sha256_of, write_manifest
from lengthwise.report.stage import hidden, move_into, replace_whole

PERIOD = "2026-Q2"
RUN = {"run_id": "run-a", "period": PERIOD, "created_at": "2026-07-01 10:00", "version": "0"}


def write(folder, **texts):
    for name, text in texts.items():
        path = folder / name.replace("__", "/").replace("_txt", ".txt")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")


def test_a_whole_stage_takes_the_place_and_leaves_no_remains(tmp_path):
    place = tmp_path / PERIOD
    write(place, internal__old_txt="old", internal__notes_txt="mine")
    write_manifest(place / "internal", ["old.txt"], RUN, "embedded")
    with hidden(tmp_path, PERIOD) as stage:
        write(stage, internal__new_txt="new", shared__deck_txt="deck")
        assert not (place / "internal" / "new.txt").exists()
        replace_whole(stage, place)
    assert [path.name for path in tmp_path.iterdir()] == [PERIOD]
    # What the last pack made is gone, what nobody's manifest names is kept.
    names = sorted(path.name for path in (place / "internal").iterdir())
    assert names == ["new.txt", "notes.txt"]
    assert (place / "shared" / "deck.txt").read_text() == "deck"


def test_a_failure_leaves_the_place_as_it_was(tmp_path):
    write(tmp_path / PERIOD, internal__old_txt="old")

    def fail():
        with hidden(tmp_path, PERIOD) as stage:
            write(stage, internal__old_txt="half")
            raise ValueError("stop")

    with pytest.raises(ValueError, match="stop"):
        fail()
    assert (tmp_path / PERIOD / "internal" / "old.txt").read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == [PERIOD]


def test_files_of_one_kind_join_what_lies_there(tmp_path):
    place = tmp_path / PERIOD
    write(place, internal__a_txt="a", internal__b_txt="b")
    with hidden(tmp_path, PERIOD) as stage:
        write(stage, internal__b_txt="newer", clinicians__c_txt="c")
        moved = move_into(stage, place)
    assert sorted(path.name for path in moved) == ["b.txt", "c.txt"]
    assert (place / "internal" / "a.txt").read_text() == "a"
    assert (place / "internal" / "b.txt").read_text() == "newer"


def test_remains_of_a_dead_process_are_cleared_and_of_a_running_one_kept(tmp_path):
    dead, alive = dead_process(), os.getppid()
    write(tmp_path / f".{PERIOD}.new-{dead}-00ff", internal__x_txt="half")
    write(tmp_path / f".{PERIOD}.new-{alive}-00ff", internal__x_txt="half")
    write(tmp_path / f".2026-Q1.new-{dead}-00ff", internal__x_txt="half")
    with hidden(tmp_path, PERIOD):
        pass
    left = sorted(path.name for path in tmp_path.iterdir())
    assert left == [f".2026-Q1.new-{dead}-00ff", f".{PERIOD}.new-{alive}-00ff"]


def test_what_a_killed_exchange_moved_aside_comes_back(tmp_path):
    write(tmp_path / f".{PERIOD}.old-{dead_process()}-00ff", internal__x_txt="whole")
    with hidden(tmp_path, PERIOD):
        assert (tmp_path / PERIOD / "internal" / "x.txt").read_text() == "whole"


def test_a_manifest_keeps_entries_of_files_that_were_not_made_again(tmp_path):
    write(tmp_path, a_txt="a", b_txt="b", notes_txt="mine")
    write_manifest(tmp_path, ["a.txt", "b.txt"], RUN, "quarto 1.10.18")
    write(tmp_path, b_txt="newer")
    write_manifest(tmp_path, ["b.txt"], {**RUN, "run_id": "run-b"}, "embedded")
    assert listed(tmp_path) == ["a.txt", "b.txt"]
    entries = {
        item["name"]: item
        for item in json.loads((tmp_path / "manifest.json").read_text())["files"]
    }
    assert (entries["a.txt"]["engine"], entries["a.txt"]["run_id"]) == (
        "quarto 1.10.18",
        "run-a",
    )
    assert (entries["b.txt"]["engine"], entries["b.txt"]["run_id"]) == ("embedded", "run-b")
    assert entries["b.txt"]["sha256"] == sha256_of(tmp_path / "b.txt")


def test_a_manifest_that_someone_changed_names_nothing(tmp_path):
    (tmp_path / "manifest.json").write_text('{"files": [{"nom": 1}]}', encoding="utf-8")
    assert listed(tmp_path) == []
    (tmp_path / "manifest.json").write_text(
        '{"files": [{"name": "../../x"}]}', encoding="utf-8"
    )
    assert listed(tmp_path) == ["x"]
