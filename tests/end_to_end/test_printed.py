"""The pack as paper and as office files: nothing runs over, nothing is lost."""

import re
import zipfile
from collections import defaultdict
from itertools import pairwise

import pytest

from lengthwise.report.documents import KINDS
from programs import converted, run, words_of

pytestmark = pytest.mark.xdist_group("demo")
WIDTH, HEIGHT = 595.3, 841.9  # A4 in points
EDGE = 40  # the narrowest margin of any document, less the width of a letter
HEADINGS = (
    *("Summary", "Cases to look at first", "Criteria and results", "Flow of cases"),
    *("Data quality", "Agreement of length methods", "Conditions of reading"),
    *("Where fillings end", "From length to level to outcome", "Actions and re-audit"),
    *("Questions for the meeting", "Limits and cautions", "Glossary", "Manifest"),
)
PRINTED = [kind.name for kind in KINDS.values() if "pdf" in kind.formats]


@pytest.fixture(scope="module")
def files(whole_demo):
    """Return the first document of each kind, by kind and format."""
    return {
        (kind.name, suffix): sorted((whole_demo.place / kind.audience).glob(f"*.{suffix}"))[0]
        for kind in KINDS.values()
        for suffix in kind.formats
    }


@pytest.mark.parametrize("kind", PRINTED)
def test_fonts_are_inside_and_the_file_is_tagged(files, kind):
    path = files[kind, "pdf"]
    fonts = run("pdffonts", path).splitlines()[2:]
    assert fonts
    # Columns from the right: object number (two), Unicode, subset, embedded.
    assert [line for line in fonts if line.split()[-5] != "yes"] == []
    assert re.search(r"Tagged:\s+yes", run("pdfinfo", path))


@pytest.mark.parametrize("kind", PRINTED)
def test_no_word_runs_off_its_page(files, kind):
    words = words_of(files[kind, "pdf"])
    assert len(words) > 200
    off = [
        word for _, left, top, right, bottom, word in words
        if left < EDGE or right > WIDTH - EDGE or top < 0 or bottom > HEIGHT
    ]  # fmt: skip
    assert off == []


@pytest.mark.parametrize("kind", PRINTED)
def test_no_word_stands_on_another(files, kind):
    lines = defaultdict(list)
    for page, left, top, right, bottom, word in words_of(files[kind, "pdf"]):
        lines[page, round(bottom), round(bottom - top)].append((left, right, word))
    clashes = [
        (first[2], second[2])
        for line in lines.values()
        for first, second in pairwise(sorted(line))
        if first[1] - second[0] > 1.5
    ]
    assert clashes == []


def test_the_text_of_the_quarterly_reads_in_its_order(files):
    text = run("pdftotext", files["quarterly", "pdf"], "-")
    text = text.replace("\f", "\n")
    positions = [re.search(rf"^{re.escape(name)}$", text, re.MULTILINE) for name in HEADINGS]
    assert all(positions)
    starts = [found.start() for found in positions]
    assert starts == sorted(starts)


def test_the_quarterly_opens_in_an_office_program_with_every_table_and_figure(files, tmp_path):
    page = files["quarterly", "html"].read_text(encoding="utf-8")
    tables, figures = page.count("<table"), page.count("<figcaption>")
    with zipfile.ZipFile(files["quarterly", "docx"]) as archive:
        body = archive.read("word/document.xml").decode()
        images = [name for name in archive.namelist() if name.startswith("word/media/")]
    assert len(re.findall(r"<w:tbl>", body)) == tables
    assert len(re.findall(r"<w:drawing>", body)) == figures
    assert len(images) == figures
    pdf = converted(files["quarterly", "docx"], tmp_path)
    text = run("pdftotext", pdf, "-")
    for name, count in (("Table", tables), ("Figure", figures)):
        missing = [n for n in range(1, count + 1) if not re.search(rf"{name}\s{n}:", text)]
        assert missing == [], name
    listed = run("pdfimages", "-list", pdf).splitlines()[2:]
    assert len([line for line in listed if line.split()[2] == "image"]) >= figures


def test_the_deck_opens_in_an_office_program_with_every_slide(files, tmp_path):
    with zipfile.ZipFile(files["study-club", "pptx"]) as archive:
        slides = [n for n in archive.namelist() if re.fullmatch(r"ppt/slides/slide\d+\.xml", n)]
        shown = {name: archive.read(name).decode() for name in slides}
    pdf = converted(files["study-club", "pptx"], tmp_path)
    assert re.search(rf"Pages:\s+{len(slides)}\b", run("pdfinfo", pdf))
    letters = re.sub(r"\s", "", run("pdftotext", pdf, "-"))
    for text in shown.values():
        words = re.findall(r"<a:t>([^<&]{12,})</a:t>", text)
        assert [word for word in words if re.sub(r"\s", "", word) not in letters] == []
