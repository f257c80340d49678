"""A clinician's sheet as files, from either engine."""

import re
from pathlib import Path

import pytest

from lengthwise.report import quarto
from lengthwise.report.render import render
from lengthwise.report.snapshot import write_snapshot
from lengthwise.resources import resource
from programs import run
from report_clinician_rows import SLUG, clinician_run

SOURCE = resource("reports", "clinician_feedback.qmd")


def rendered(folder, engine, formats=("html", "pdf")):
    stored = write_snapshot(clinician_run(), folder / "run.json")
    paths = render(SOURCE, formats, {"database": stored}, folder / "out", SLUG, engine=engine)
    return {path.suffix: path for path in paths}


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    return rendered(tmp_path_factory.mktemp("sheet"), "embedded")


def words(path):
    text = path.read_text(encoding="utf-8").partition("<body")[2]
    text = re.sub(r"<(script|style|nav)\b.*?</\1>", " ", text, flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def numbers(text):
    return re.findall(r"\d+(?:\.\d+)?", text.partition("What to look at")[2])


def pages(path):
    return run("pdftotext", path, "-").split("\f")


def test_the_first_page_is_the_sheet_and_the_rest_its_appendix(files):
    first, second = pages(files[".pdf"])[:2]
    assert "Does a number look wrong?" in first
    assert second.lstrip().startswith("Appendix: your results")


def test_headings_and_figures_stand_in_their_order(files):
    text = words(files[".html"])
    order = ("What to look at", "Your own trend", "Your share, the target", "My goal",
             "Does a number look wrong?", "Appendix: your results", "Limits and cautions")  # fmt: skip
    places = [text.index(part) for part in order]
    assert places == sorted(places)
    page = Path(files[".html"]).read_text(encoding="utf-8")
    assert page.count("<img") == 2
    assert not re.search(r'(?:src|href)="(?!#|data:)', page)


@pytest.mark.quarto
@pytest.mark.skipif(not quarto.is_usable(), reason="Quarto 1.6 or newer is not on PATH")
def test_quarto_shows_the_same_words_numbers_and_first_page(files, tmp_path):
    others = rendered(tmp_path, "quarto")
    here, there = words(files[".html"]), words(others[".html"])
    assert numbers(there) == numbers(here)
    assert "Does a number look wrong?" in pages(others[".pdf"])[0]
    assert "Appendix: your results" in pages(others[".pdf"])[1]
