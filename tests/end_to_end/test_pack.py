"""The pack of a period: sorted by readers, hashed, whole or not at all."""

import hashlib
import json
import os
import re
import shutil
import signal
import subprocess
import sys

import pytest

from lengthwise.cli import main
from lengthwise.report.clinician_key import read_key
from lengthwise.report.pack_manifest import listed
from lengthwise.report.stage import hidden
from lengthwise.report.wording import banned_words
from lengthwise.store.results import read_run
from programs import run

pytestmark = pytest.mark.xdist_group("demo")
SHEETS = 7


@pytest.fixture(scope="module")
def place(whole_demo):
    return whole_demo.place


def manifest(folder):
    return json.loads((folder / "manifest.json").read_text(encoding="utf-8"))


def pdf_text(path):
    return run("pdftotext", "-layout", path, "-")


def test_every_folder_lists_its_files_with_their_hashes_and_the_engine(place):
    folders = sorted(path for path in place.iterdir())
    assert {"internal", "clinicians"} <= {path.name for path in folders}
    for folder in folders:
        said = manifest(folder)
        names = {path.name for path in folder.iterdir()} - {"manifest.json"}
        assert {item["name"] for item in said["files"]} == names
        assert said["audience"] == folder.name
        assert re.match(r"(embedded|quarto) ", said["engine"])
        for item in said["files"]:
            data = (folder / item["name"]).read_bytes()
            assert item["sha256"] == hashlib.sha256(data).hexdigest()
            assert item["bytes"] == len(data)


def test_quarterly_has_three_formats_and_each_clinician_two(place):
    internal = {path.suffix for path in (place / "internal").glob("quarterly-audit-*")}
    assert internal == {".html", ".pdf", ".docx"}
    sheets = listed(place / "clinicians")
    assert len(sheets) == 2 * SHEETS
    assert all(re.fullmatch(r"[0-9a-f]{16}\.(html|pdf)", name) for name in sheets)


def test_the_key_is_apart_and_no_sheet_names_a_clinician(place):
    key = read_key(place / "internal" / "clinician-key.csv")
    assert sorted(key) == [f"C0{number}" for number in range(1, SHEETS + 1)]
    assert {f"{slug}.html" for slug in key.values()} <= set(listed(place / "clinicians"))
    for path in (place / "clinicians").iterdir():
        assert "key" not in path.name
        if path.suffix in {".html", ".json"}:
            text = path.read_text(encoding="utf-8")
            assert not re.search(r"\bC0[1-7]\b|clinician:", text), path.name


def test_hidden_folders_and_other_remains_are_gone(place):
    assert [path.name for path in place.parent.iterdir()] == ["2026-Q2"]
    assert not list(place.rglob("*.json.part")) + list(place.rglob(".*"))


def test_words_of_every_sheet_are_neutral(place):
    for path in (place / "clinicians").glob("*.html"):
        text = re.sub(r"<[^>]+>", " ", path.read_text(encoding="utf-8"))
        assert banned_words(text) == []


def test_a_sheet_starts_with_one_page_that_ends_in_how_to_query(place):
    for path in sorted((place / "clinicians").glob("*.pdf")):
        first, second = pdf_text(path).split("\f")[:2]
        assert "Private" in first
        assert "My goal until the next sheet" in first
        assert "Does a number look wrong?" in first
        assert second.lstrip().startswith("Appendix: your results")


def test_a_sheet_shows_own_numbers_targets_trend_and_unnamed_peers(whole_demo, place):
    key = read_key(place / "internal" / "clinician-key.csv")
    rows = read_run(whole_demo.folder.database)["estimates"]
    for code, slug in key.items():
        text = re.sub(r"<[^>]+>", " ", (place / "clinicians" / f"{slug}.html").read_text())
        own = rows[(rows["scope"] == f"clinician:{code}") & (rows["measure"] == "share")]
        for _, row in own.iterrows():
            assert f"{row['numerator']}\u00a0of\u00a0{row['denominator']}" in text
        assert len(re.findall("Next step:", text)) <= 5
        assert "6 colleagues from" in text


def test_reports_made_again_keep_names_and_others_files(whole_demo, place):
    key = (place / "internal" / "clinician-key.csv").read_text(encoding="utf-8")
    note = place / "internal" / "minutes.txt"
    note.write_text("kept", encoding="utf-8")
    folder = ["--folder", str(whole_demo.folder.root)]
    before = manifest(place / "clinicians")
    said = ["--quiet", "report", "clinician", "--formats", "html", *folder]
    assert main(said) == 0
    assert (place / "internal" / "clinician-key.csv").read_text(encoding="utf-8") == key
    after = manifest(place / "clinicians")
    assert [item["name"] for item in after["files"]] == [
        item["name"] for item in before["files"]
    ]
    # Two renders of one run are the same, hashes included.
    assert after["files"] == before["files"]
    assert note.read_text(encoding="utf-8") == "kept"
    assert "minutes.txt" not in listed(place / "internal")
    note.unlink()


def test_a_killed_pack_leaves_what_was_there(whole_demo, place, tmp_path):
    root = tmp_path / "audit"
    root.mkdir()
    for name in ("settings.toml", "audit.duckdb"):
        shutil.copyfile(whole_demo.folder.root / name, root / name)
    earlier = root / "reports" / "2026-Q2" / "internal"
    earlier.mkdir(parents=True)
    (earlier / "quarterly-audit-2026-Q2.html").write_text("earlier", encoding="utf-8")
    command = [sys.executable, "-m", "lengthwise", "pack", "--folder", str(root)]
    process = subprocess.Popen(
        command, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    for line in process.stderr:
        if "rendered 1 of" in line:
            break
    os.killpg(process.pid, signal.SIGKILL)
    process.communicate()
    shown = [path.name for path in (root / "reports").iterdir()]
    assert (earlier / "quarterly-audit-2026-Q2.html").read_text() == "earlier"
    assert [path.name for path in (root / "reports" / "2026-Q2").rglob("*.html")] == [
        "quarterly-audit-2026-Q2.html"
    ]
    assert len(shown) == 2
    # The next command that renders clears what the killed one had begun.
    with hidden(root / "reports", "2026-Q2"):
        pass
    assert [path.name for path in (root / "reports").iterdir()] == ["2026-Q2"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["pack", "--period", "2031-Q1"], "there is no run of 2031-Q1"),
        (["pack", "--jobs", "0"], "--jobs must be 1 or more"),
        (["report", "clinician", "--formats", "docx"], "known: html, pdf"),
    ],
)
def test_what_cannot_be_made_is_a_clear_error(whole_demo, arguments, words, capsys):
    assert main(["--quiet", *arguments, "--folder", str(whole_demo.folder.root)]) > 1
    assert words in capsys.readouterr().err
