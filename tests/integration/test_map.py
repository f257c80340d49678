"""A drafted mapping is valid, never wrong where it is certain, and never loads on a guess."""

import tomllib
from collections import Counter

import pytest

from bench.bench_map import verdicts
from header_styles import STYLES
from lengthwise.cli import main
from lengthwise.errors import SettingsError
from lengthwise.ingest.draft import propose
from lengthwise.ingest.draft_file import draft
from lengthwise.ingest.mapping import load_mapping
from own_sheets import SHAPES


def test_nothing_certain_is_wrong_and_most_is_right():
    assert len(STYLES) >= 12
    total = Counter(verdict for style in STYLES for verdict, _ in verdicts(style))
    assert total["certain and wrong"] == 0
    assert total["wrong"] <= 2
    assert total["right"] >= 0.75 * sum(total.values())


@pytest.mark.parametrize("shape", SHAPES)
def test_drafts_of_own_sheets_ask_few_questions(tmp_path, shape):
    name, content, _ = SHAPES[shape]
    path = tmp_path / name
    path.write_bytes(content)
    found = draft(path)
    entry = tomllib.loads(found.text)["file"][0]
    assert entry["name"] == name
    assert found.questions <= 5
    assert found.counts["certain"] >= 5
    assert "# QUESTION: how are teeth written?" in found.text
    if shape != "wide per canal":  # whose header for the level is no known word
        assert "# QUESTION: is a positive filling level" in found.text


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
