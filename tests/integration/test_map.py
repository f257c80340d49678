"""A drafted mapping is valid, never wrong where it is certain, and never loads on a guess."""

import re
import subprocess
import sys
import tomllib
from collections import Counter

import pytest
from openpyxl import Workbook

from bench.bench_map import verdicts, word_verdicts
from folders import folder_with, stored_records
from header_styles import STYLES
from lengthwise.cli import main
from lengthwise.errors import SettingsError
from lengthwise.ingest.draft import propose
from lengthwise.ingest.draft_file import draft, drafts
from lengthwise.ingest.mapping import load_mapping
from lengthwise.intake import ingest_files
from own_sheets import SHAPES, TIDY

MOST_QUESTIONS = 5
# What a user answers to the questions of each draft, by number.
ANSWERS = {
    "wide per tooth": {
        1: "quadrant_position",
        2: "positive_short",
        3: "",
        4: "film_file",
        5: "",
    },
    "wide per canal": {1: "universal", 2: "mdy", 3: "positive_beyond", 4: "film_file"},
    "long, other language": {1: "iso3950", 2: "positive_beyond", 3: "", 4: "", 5: "film_file"},
}


def answered(text, answers):
    """Return a draft without the sign before the lines that the answers bring in."""
    lines = []
    for line in text.splitlines():
        mark = re.search(r"#\s*(Q\d+(?: or Q\d+)*)(?:, if (\S+))?$", line)
        numbers = [int(number) for number in re.findall(r"\d+", mark[1])] if mark else []
        chosen = any(
            answers.get(number) in (mark[2] or "", "") or not mark[2]
            for number in numbers
            if number in answers
        )
        lines.append(line.removeprefix("# ") if mark and chosen else line)
    return "\n".join(lines) + "\n"


def test_nothing_certain_is_wrong_and_most_is_right():
    assert len(STYLES) >= 12
    total = Counter(verdict for style in STYLES for verdict, _ in verdicts(style))
    assert total["certain and wrong"] == 0
    assert total["wrong"] <= 2
    assert total["right"] >= 0.75 * sum(total.values())


@pytest.mark.parametrize("shape", SHAPES)
def test_an_answered_draft_loads_to_the_tables_of_the_tidy_form(tmp_path, shape):
    tidy = folder_with(tmp_path / "tidy", **TIDY)
    ingest_files(tidy, [], {})
    own = folder_with(tmp_path / "own")
    name, content, _ = SHAPES[shape]
    path = own.exports / name
    path.write_bytes(content)
    found = draft(path)
    assert found.questions == len(ANSWERS[shape]) <= MOST_QUESTIONS
    assert found.counts["certain"] >= 8
    own.mapping.write_text(answered(found.text, ANSWERS[shape]), encoding="utf-8")
    assert ingest_files(own, [], {}).findings.empty
    assert stored_records(own, TIDY) == stored_records(tidy, TIDY)


def test_sheets_of_a_workbook_are_drafted_one_by_one(tmp_path):
    book = Workbook()
    first = book.active
    first.title = "Canals"
    for line in SHAPES["wide per canal"][1].decode().splitlines():
        first.append(line.split(","))
    book.create_sheet("Reviews").append(["Case", "Days after treatment", "PAI score", "Pain"])
    book["Reviews"].append(["T1", 370, 1, "nein"])
    path = tmp_path / "list.xlsx"
    book.save(path)
    tidy = folder_with(tmp_path / "tidy", **TIDY)
    ingest_files(tidy, [], {})
    canals, reviews = drafts(path)
    assert (canals.name, reviews.name) == ("Canals (list.xlsx)", "Reviews (list.xlsx)")
    assert reviews.questions == 0
    assert '"nein" = "no"  # certain' in reviews.text
    own = folder_with(tmp_path / "own")
    text = answered(canals.text, ANSWERS["wide per canal"]) + answered(reviews.text, {})
    own.mapping.write_text(text, encoding="utf-8")
    path.rename(own.exports / path.name)
    assert ingest_files(own, [], {}).findings.empty
    assert stored_records(own, TIDY) == stored_records(tidy, TIDY)


def test_levels_in_words_become_a_category_and_no_number(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(
        "Case,Canal,Fill level\nT1,MB,kurz\nT2,MB,ok\nT3,MB,überstopft\nT4,D,gut so\n",
        encoding="utf-8",
    )
    (fill,) = [item for item in draft(path).proposals if item.header == "Fill level"]
    assert (fill.field, fill.status) == ("fill_level", "likely")
    to = {one.word: (one.to, one.status) for one in fill.recodes.items}
    assert to["kurz"] == (("short",), "certain")
    assert to["ok"] == (("within",), "likely")
    assert to["überstopft"] == (("beyond",), "certain")
    assert to["gut so"][1] == "question"


@pytest.mark.parametrize("shape", SHAPES)
def test_an_unanswered_draft_cannot_be_loaded(tmp_path, shape):
    name, content, _ = SHAPES[shape]
    path = tmp_path / name
    path.write_bytes(content)
    mapping = tmp_path / "mapping.toml"
    mapping.write_text(draft(path).text, encoding="utf-8")
    with pytest.raises(SettingsError, match="declare tooth_notation"):
        load_mapping(mapping)


def test_values_of_rows_stay_out_of_the_draft(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(
        "Case,Patient name,Memo\nT1,Qx Zy,was rather sore today\n", encoding="utf-8"
    )
    found = draft(path)
    assert "Qx" not in found.text
    assert "sore" not in found.text
    assert found.counts["refused"] == 2


def test_no_recode_that_is_certain_is_wrong():
    total = Counter(verdict for _, verdict in word_verdicts())
    assert total["certain and wrong"] == total["wrong"] == 0
    assert total["right"] >= 0.8 * sum(total.values())


def test_a_column_of_many_words_is_no_list_of_choices():
    assert propose("Method", [f"word {at}" for at in range(30)]).status == "question"


def test_a_field_of_a_megabyte_and_a_control_character_are_drafted(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(f"Case,Canal,Bo\x7fx\nT1,MB\x7f,{'x' * 1_000_000}\n", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "lengthwise", "map", str(path), "--out", str(tmp_path / "draft.toml")],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    entry = tomllib.loads((tmp_path / "draft.toml").read_text(encoding="utf-8"))
    assert entry["file"][0]["name"] == "list.csv"


def test_encoding_of_a_marked_file_is_seen(tmp_path):
    path = tmp_path / "list.csv"
    path.write_bytes("Case;Länge\nT1;20,5\n".encode("utf-16"))
    found = draft(path)
    assert 'encoding = "utf-16"' in found.text
    assert [item.field for item in found.proposals] == ["treatment_id", "length_mm"]


def test_a_known_word_with_values_that_do_not_fit_is_a_question():
    assert propose("Working length", ["20.5", "21"]).status == "certain"
    assert propose("Working length", ["20.5", "long"]).status == "question"
    assert propose("Working length", []).status == "question"


def test_command_writes_a_draft_and_overwrites_nothing(tmp_path, capsys):
    source = tmp_path / "list.csv"
    source.write_text("Case,Tooth,EAL\nT1,16,20.5\n", encoding="utf-8")
    target = tmp_path / "draft.toml"
    assert main(["map", str(source), "--out", str(target)]) == 0
    assert "3 columns certain" in capsys.readouterr().out
    before = target.read_text(encoding="utf-8")
    assert main(["map", str(source), "--out", str(target)]) == SettingsError.exit_code
    assert target.read_text(encoding="utf-8") == before
