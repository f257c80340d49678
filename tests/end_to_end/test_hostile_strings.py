"""Texts that try to be obeyed are shown letter by letter, or refused, in every format.

In rows, codes of people, places, canals and reasons are refused by the dictionary. In the
stored run they are put past that gate, so that the documents are proven by themselves.
"""

import contextlib
import csv
import io
import re
import unicodedata
import zipfile
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest

from folders import SMALL, folder_with
from hostile_runs import CODES, TEXTS, hostile_run
from lengthwise.cli import main
from lengthwise.folder import AuditFolder
from lengthwise.report import quarto
from lengthwise.report.documents import KINDS
from lengthwise.report.escape import plain
from lengthwise.report.render import render
from lengthwise.report.snapshot import write_snapshot
from lengthwise.resources import resource
from programs import run

# One worker renders each document once.
pytestmark = pytest.mark.xdist_group("hostile")
ENGINES = [
    "embedded",
    pytest.param(
        "quarto",
        marks=[
            pytest.mark.quarto,
            pytest.mark.skipif(
                not quarto.is_usable(), reason="Quarto 1.6 or newer is not on PATH"
            ),
        ],
    ),
]
SHOWN = {
    "quarterly": [*TEXTS.values(), *CODES],
    "clinician": [TEXTS["markdown"]],
    "study-club": [],
}


def squashed(text):
    """Return the letters of a text; line ends, spaces and break marks differ by format."""
    return "".join(
        letter
        for letter in text
        if not letter.isspace() and unicodedata.category(letter) != "Cf"
    )


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Return a function that renders one kind with an engine, once for all tests."""
    done = {}

    def make(kind, engine):
        if (kind, engine) not in done:
            folder = tmp_path_factory.mktemp("hostile")
            (folder / "settings.toml").write_text("", encoding="utf-8")
            document = KINDS[kind].documents(hostile_run(), AuditFolder(folder))[0]
            stored = write_snapshot(document.run_data, folder / "run.json")
            paths = render(
                resource("reports", KINDS[kind].source), KINDS[kind].formats,
                {"database": stored}, folder / "out", "report", engine=engine,
            )  # fmt: skip
            done[kind, engine] = {path.suffix[1:]: path for path in paths}
        return done[kind, engine]

    return make


def of_kinds_with(*formats):
    """Run a test for every engine and every kind of document that has one of the formats."""
    kinds = [name for name, kind in KINDS.items() if set(formats) & set(kind.formats)]

    def marked(test):
        return pytest.mark.parametrize("engine", ENGINES)(
            pytest.mark.parametrize("kind", kinds)(test)
        )

    return marked


class Page(HTMLParser):
    """Collects the elements of a page, with their attributes, and its text."""

    def __init__(self, text):
        super().__init__()
        self.elements, self.texts = [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.texts.append(data)


@of_kinds_with("html")
def test_no_page_holds_an_element_or_a_link_from_a_text(made, kind, engine):
    page = Page(made(kind, engine)["html"].read_text(encoding="utf-8"))
    assert "script" not in {tag for tag, _ in page.elements} or engine == "quarto"
    for tag, attributes in page.elements:
        assert not [name for name in attributes if name.startswith("on")], tag
        for name in ("src", "href", "srcset", "action", "data"):
            assert not str(attributes.get(name) or "").startswith(("http", "//", "file:")), tag
    shown = squashed("".join(page.texts))
    assert "root:x:0" not in shown
    for wanted in SHOWN[kind]:
        assert squashed(plain(wanted)) in shown, wanted


@of_kinds_with("docx", "pptx")
def test_office_files_hold_no_field_and_no_outer_target(made, kind, engine):
    for suffix in {"docx", "pptx"} & set(KINDS[kind].formats):
        letters = []
        with zipfile.ZipFile(made(kind, engine)[suffix]) as archive:
            for name in archive.namelist():
                data = archive.read(name)
                assert b"root:x:0" not in data
                if name.endswith(".rels"):
                    assert b"evil.example" not in data
                    assert b'TargetMode="External"' not in data
                elif name.endswith(".xml"):
                    assert not re.search(rb"<w:(?:instrText|fldSimple)\b", data)
                    tree = ElementTree.fromstring(data)
                    letters += [
                        node.text or "" for node in tree.iter() if node.tag.endswith("}t")
                    ]
        shown = squashed("".join(letters))
        for wanted in SHOWN[kind]:
            assert squashed(plain(wanted)) in shown, wanted


@of_kinds_with("pdf")
def test_pdf_shows_the_letters_and_links_nowhere(made, kind, engine):
    path = made(kind, engine)["pdf"]
    data = path.read_bytes()
    assert not re.search(rb"/URI\b|/JavaScript\b|/Launch\b", data)
    shown = squashed(run("pdftotext", "-raw", path, "-"))
    assert "root:x:0" not in shown
    for wanted in SHOWN[kind]:
        assert squashed(plain(wanted)) in shown, wanted


# Short enough to pass for a code; each starts or holds what some program would obey.
SHORT = ("=1+1", "@SUM(A1)", "+A1", "-B2", "<b>x", "$x$", "**x**", "#x()", "\\x{y}", "{{<x>}}")


def cell(text):
    return '"' + text.replace('"', '""') + '"'


def folder_of(path, texts):
    """Return an audit folder whose clinician, site, canal and reason are those texts."""
    treatments = ["treatment_id,patient_id,clinician_id,site_id,tooth,period"]
    canals, incidents = ["treatment_id,canal,confirmed_length_mm"], ["treatment_id,canal,kind"]
    for place, text in enumerate(texts):
        treatments.append(f"A{place},P{place},{cell(text)},S1,16,2026-01")
        treatments.append(f"B{place},P{place},C1,{cell(text)},16,2026-01")
        canals.append(f"G1,{cell(text)},20.5")
        incidents.append(f"G1,MB,{cell(text)}")
    treatments.append("G1,P99,C1,S1,16,2026-01")
    canals.append("G1,MB,20.5")
    tables = {"treatments": treatments, "canals": canals, "incidents": incidents}
    return folder_with(path, **{name: "\n".join(rows) + "\n" for name, rows in tables.items()})


def test_texts_that_are_no_codes_stop_the_load_and_are_never_quoted(tmp_path, capsys):
    audit = folder_of(tmp_path / "audit", TEXTS.values())
    assert main(["--quiet", "ingest", "--folder", str(audit.root)]) > 1
    said = "".join(capsys.readouterr())
    assert "nothing was stored" in said
    assert not [text for text in TEXTS.values() if text[:12] in said]
    assert not list(audit.quarantine.glob("*"))


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    audit = folder_of(tmp_path_factory.mktemp("rows") / "audit", SHORT)
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        main(["--quiet", "ingest", "--folder", str(audit.root)])
    return audit, said.getvalue()


def test_short_texts_are_set_aside_with_a_code_and_never_quoted(loaded):
    _, said = loaded
    for field in (
        "treatment.clinician_id_",
        "treatment.site_id_",
        "canal.canal_",
        "incident.kind_",
    ):
        assert field in said
    assert not [text for text in SHORT if text in said]


def test_files_of_rows_to_mend_hold_no_formula(loaded):
    audit, _ = loaded
    paths = sorted(audit.quarantine.glob("*.csv"))
    named = {path.name.partition("-")[0] for path in paths}
    assert named == {"treatments", "canals", "incidents"}
    values = []
    for path in paths:
        with path.open(encoding="utf-8", newline="") as handle:
            values += [value for row in csv.reader(handle) for value in row]
    for text in SHORT:
        guarded = f"'{text}" if text[0] in "=@+-" else text
        assert values.count(guarded) == 4
    assert not [value for value in values if re.match(r"[=@]|[+-](?![\d.,]+$)", value)]


def test_numbers_keep_their_sign_in_the_rows_to_mend(tmp_path):
    fills = "treatment_id,canal,fill_offset_mm,film_quality\nT1,MB,-0.5,?\n"
    audit = folder_with(tmp_path / "audit", **SMALL, fills=fills)
    main(["--quiet", "ingest", "--folder", str(audit.root)])
    (path,) = audit.quarantine.glob("fills-*.csv")
    assert ",-0.5," in path.read_text(encoding="utf-8")
