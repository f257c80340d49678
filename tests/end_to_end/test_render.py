"""The quarterly report as files: what a reader gets, from either engine."""

import re
import shutil
import subprocess
import tempfile
from fnmatch import fnmatchcase
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from urllib.parse import unquote

import pytest

from lengthwise.errors import ReportError
from lengthwise.report import quarto
from lengthwise.report.render import render
from lengthwise.report.snapshot import write_snapshot
from lengthwise.report.wording import banned_words
from lengthwise.resources import resource
from programs import run
from report_runs import build_run, empty_run

SOURCE = resource("reports", "quarterly_audit.qmd")
HEADINGS = (
    *("Summary", "What to do next, for the meeting to decide", "Cases to look at first"),
    *("Criteria and results", "Flow of cases", "Data quality", "Agreement of length methods"),
    *("Conditions of reading", "Where fillings end", "From length to level to outcome"),
    *("Actions and re-audit", "Questions for the meeting", "Limits and cautions", "Glossary"),
    *("Methods", "Checklists of reporting", "Manifest"),
)
HOSTILE = 'a|b $x$ {{< pagebreak >}} <script>alert(1)</script> [l](http://evil.example) "q'


class Page(HTMLParser):
    """Collects what the tests ask about."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.texts, self.references = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        values = {name: value or "" for name, value in attrs}
        self.tags.append((tag, values))
        self.references += [
            values[name] for name in ("src", "href", "srcset") if name in values
        ]

    def handle_data(self, data):
        self.texts.append(data)

    def all(self, tag):
        return [values for name, values in self.tags if name == tag]

    @property
    def text(self):
        return " ".join(" ".join(self.texts).split())


def rendered(run, folder, formats=("html",), name="report", engine="embedded"):
    folder.mkdir(parents=True, exist_ok=True)
    stored = write_snapshot(run, folder / "run.json")
    return render(SOURCE, formats, {"database": stored}, folder / "out", name, engine=engine)


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("render")
    paths = rendered(build_run(), folder, ("html", "pdf", "docx"))
    return {path.suffix[1:]: path for path in paths}


@pytest.fixture(scope="module")
def page(files):
    return Page(files["html"].read_text(encoding="utf-8"))


def test_all_files_reach_their_final_names_and_nothing_else(files):
    names = sorted(path.name for path in files["html"].parent.iterdir())
    assert names == ["report.docx", "report.html", "report.pdf"]


def test_headings_stand_in_their_order(page, files):
    text = files["html"].read_text(encoding="utf-8")
    headings = [
        re.sub(r"<[^>]+>", "", found) for found in re.findall(r"<h[23].*?</h[23]>", text)
    ]
    positions = [headings.index(heading) for heading in HEADINGS]
    assert positions == sorted(positions)
    assert len(page.all("h1")) == 1


def test_every_table_has_a_caption_and_scopes(page):
    tables = page.all("table")
    assert len(tables) >= 15
    assert len(page.all("caption")) == len(tables)
    assert {values.get("scope") for values in page.all("th")} == {"col", "row"}
    boxes = [values for values in page.all("div") if values.get("class") == "table-scroll"]
    assert len(boxes) == len(tables)
    assert all(box["tabindex"] == "0" and box["aria-label"] for box in boxes)


def test_every_figure_has_alternative_text_headline_and_number(page, files):
    images = page.all("img")
    assert len(images) >= 15
    assert all(len(values["alt"]) > 40 for values in images)
    text = files["html"].read_text(encoding="utf-8")
    before_figures = re.findall(r"<strong>([^<]+)</strong></p>\s*<figure", text)
    assert len(before_figures) == len(images)
    assert all(f"Figure\u00a0{number}:" in text for number in range(1, len(images) + 1))


def test_html_refers_to_nothing_outside(page, files):
    text = files["html"].read_text(encoding="utf-8")
    inside = [value for value in page.references if value.startswith(("#", "data:"))]
    assert inside == page.references
    assert page.all("script") == []
    assert not re.search(r"url\(\s*['\"]?(?!data:)", text)
    assert "@import" not in text


def test_every_inner_link_has_its_target(page):
    identifiers = {values["id"] for _, values in page.tags if values.get("id")}
    links = [unquote(value[1:]) for value in page.references if value.startswith("#")]
    assert links
    assert set(links) <= identifiers


def test_html_names_language_title_and_way_to_the_content(page, files):
    text = files["html"].read_text(encoding="utf-8")
    assert '<html lang="en-GB">' in text
    assert "<title>Audit of root-canal lengths, fillings and healing, 2026-Q2</title>" in text
    assert page.all("a")[0] == {"class": "skip-link", "href": "#content"}
    assert len(page.all("main")) == 1


def test_headings_do_not_skip_a_level(page):
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_no_banned_word_reaches_the_page(page):
    assert banned_words(page.text) == []


def test_no_path_of_this_machine_reaches_any_file(files):
    for path in files.values():
        content = path.read_bytes()
        assert tempfile.gettempdir().encode() not in content
        assert str(Path.home()).encode() + b"/" not in content or Path.home() == Path("/")


def test_a_second_render_of_one_run_is_the_same(files, tmp_path):
    again = rendered(build_run(), tmp_path, ("html", "pdf"))
    for path in again:
        assert path.read_bytes() == files[path.suffix[1:]].read_bytes()


def test_two_runs_in_a_row_never_share_a_figure(tmp_path):
    pages = []
    for run_id, seed in (("run-a", 1), ("run-b", 2)):
        (path,) = rendered(build_run(run_id, seed), tmp_path / "same", name=run_id)
        pages.append(Page(path.read_text(encoding="utf-8")))
    first, second = (
        {v["src"] for v in page.all("img") if "Scatter" in v["alt"]} for page in pages
    )
    assert first
    assert second
    assert first.isdisjoint(second)


def test_hostile_texts_are_shown_and_not_obeyed(tmp_path):
    criteria = [{"id": "two_methods", "statement": HOSTILE, "target": 0.9}]
    run = build_run(practice_name=HOSTILE, criteria=criteria)
    html, pdf = rendered(run, tmp_path, ("html", "pdf"))
    page = Page(html.read_text(encoding="utf-8"))
    assert page.text.count(HOSTILE) >= 3
    assert page.all("script") == []
    assert not any("evil" in value for value in page.references)
    if program := shutil.which("pdftotext"):
        shown = subprocess.run([program, "-raw", pdf, "-"], capture_output=True, check=True)
        letters = re.sub(r"\s", "", shown.stdout.decode())
        assert re.sub(r"\s", "", HOSTILE) in letters


def pages_of(pdf):
    return run("pdftotext", "-layout", pdf, "-").split("\f")


def test_page_one_stands_on_page_one(files):
    first, second = pages_of(files["pdf"])[:2]
    for words in ("Safety first", "Summary", "ended outside the preset", "What to do next"):
        assert words in first
    assert "Measure again in" in first
    assert "Cases to look at first" not in first.replace(
        "listed under Cases to look at first", ""
    )
    assert second.lstrip().startswith("Cases to look at first")


def test_every_table_of_results_says_how_to_trace_its_numbers(files):
    text = files["html"].read_text(encoding="utf-8")
    traced = re.findall(r'<div class="result-ids">(.*?)</div>', text, re.DOTALL)
    patterns = [found for part in traced for found in re.findall(r"<code>(.*?)</code>", part)]
    ids = list(build_run().estimates["result_id"])
    assert len(traced) >= 30
    for pattern in patterns:
        assert any(fnmatchcase(name, pattern) for name in ids), pattern


def test_pdf_is_tagged_and_titled(files):
    content = files["pdf"].read_bytes()
    assert content.startswith(b"%PDF-")
    assert b"/MarkInfo" in content
    assert b"pdfuaid" in content


def test_a_run_with_nothing_analysed_still_renders(tmp_path):
    (path,) = rendered(empty_run(), tmp_path)
    page = Page(path.read_text(encoding="utf-8"))
    assert page.text.count("Not analysed in this run.") >= 8
    assert page.all("img") == []
    assert "Clinical review now" in page.text


def write_source(folder, code):
    path = folder / "x.qmd"
    parameters = '```{python}\n#| label: parameters\n#| tags: [parameters]\nkey = ""\n```\n'
    path.write_text(
        f"---\ntitle: X\n---\n\n{parameters}\n```{{python}}\n#| label: it\n{code}\n```\n"
    )
    return path


def test_a_failing_cell_is_named_without_its_values(tmp_path):
    source = write_source(tmp_path, 'raise ValueError("secret T0042")')
    with pytest.raises(ReportError) as caught:
        render(source, ["html"], {}, tmp_path / "out", "x", engine="embedded")
    assert str(caught.value) == "The report's cell 'it' stopped with ValueError."
    assert caught.value.__suppress_context__
    assert not (tmp_path / "out").exists()


def test_our_own_errors_keep_their_words(tmp_path):
    code = 'from lengthwise.errors import ReportError\nraise ReportError("say this")'
    source = write_source(tmp_path, code)
    with pytest.raises(ReportError, match="cell 'it' stopped: say this"):
        render(source, ["html"], {}, tmp_path / "out", "x", engine="embedded")


@pytest.mark.parametrize("engine", ["embedded", "quarto"])
def test_unknown_parameters_are_refused(engine, tmp_path, monkeypatch):
    monkeypatch.setattr(quarto, "is_usable", lambda: True)
    source = write_source(tmp_path, "1")
    with pytest.raises(ReportError, match="no parameter kee; it has: key"):
        render(source, ["html"], {"kee": 1}, tmp_path / "out", "x", engine=engine)


@pytest.mark.parametrize(("formats", "engine"), [(["odt"], "auto"), (["html"], "other")])
def test_unknown_formats_and_engines_are_refused(formats, engine, tmp_path):
    with pytest.raises(ReportError, match="Unknown"):
        render(SOURCE, formats, {}, tmp_path, "x", engine=engine)


def test_quarto_gets_the_values_in_the_copied_source(tmp_path):
    source = write_source(tmp_path, "1")
    quarto.inject(source, {"key": "given"})
    text = source.read_text()
    assert text.index('key = ""') < text.index("key = 'given'") < text.index("label: it")


@pytest.mark.quarto
@pytest.mark.skipif(not quarto.is_usable(), reason="Quarto 1.6 or newer is not on PATH")
def test_quarto_shows_the_same_headings_numbers_figures_and_tables(page, tmp_path):
    (path,) = rendered(build_run(), tmp_path, engine="quarto")
    other = Page(path.read_text(encoding="utf-8"))
    own = r"report engine \w+|Skip to the report"
    ours, theirs = (re.sub(own, "", each.text) for each in (page, other))
    words = r"[−+]?\d+(?:\.\d+)?|[A-Za-z]{4,}"
    assert set(re.findall(words, ours)) <= set(re.findall(words, theirs))
    assert len(other.all("table")) == len(page.all("table"))
    assert [v["src"] for v in other.all("img")] == [v["src"] for v in page.all("img")]
    assert [v["alt"] for v in other.all("img")] == [v["alt"] for v in page.all("img")]
