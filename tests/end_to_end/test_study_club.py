"""The study-club deck as files: what an audience gets, and what must not be in it."""

import re
import shutil
import struct
import subprocess
import tempfile
import zipfile
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

from lengthwise.report import quarto
from lengthwise.report.disclosure import shared_view
from lengthwise.report.render import render
from lengthwise.report.run_data import RunData
from lengthwise.report.slides import finish_slides
from lengthwise.report.slides.names import DRAWING, SLIDES
from lengthwise.report.snapshot import write_snapshot
from lengthwise.report.wording import banned_words
from lengthwise.resources import resource
from report_runs import RunBuilder, build_run

SOURCE = resource("reports", "study_club.qmd")
TITLES = (
    "What we asked",
    "Setting: one practice, 2024-Q3 to 2026-Q2",
    "How it was measured",
    "Every pair of methods: bias, limits of agreement and n",
    "Against the confirmed length (agreement, not accuracy)",
    "Each method's own error, with no method taken as the truth",
    "When the electronic reading goes with a shift or more scatter",
    "Where fillings end, per 100 (preset 0-2)",
    "Teeth not healed, by where the filling ends",
    "From length to level to outcome",
    "What we changed, and what was seen after",
    "Limits, and what was masked",
    "Three questions for you",
)
# Values of rows, planted wherever a run can hold them.
PLANTED = ("TX90QZ77", "C91", "SITE_Z9", "23.37", "2337", "Planted Practice", "ab" * 32)
WIDE, HIGH = 9144000, 5143500
PICTURE_CHUNKS = {b"IHDR", b"pHYs", b"IDAT", b"IEND"}


def planted_run():
    """Return a run with values of rows in lists, points, strata, scopes, texts and settings."""
    action = {"action": "C91 dries the canal", "gap": "TX90QZ77 at 23.37 mm", "status": "open"}
    plain = {"action": "Dry the canal first", "measure": "Share read dry", "status": "open"}
    run = build_run(practice_name="Planted Practice", actions=[action, plain])
    builder = RunBuilder()
    builder.listed("incidents", "TX90QZ77", "MB", "36", 23.37, "23.37 mm", clinician="C91")
    builder.point("bland_altman", "electronic", "canal", "TX90QZ77", 23.37, 23.37)
    for kind, stratum in (("clinician", "C91"), ("site", "SITE_Z9")):
        own = {"stratum_kind": kind, "stratum": stratum}
        builder.share("fill", "B1", "short", "share", 233, 2337, **own)
    builder.share("criteria", "B5", "two_methods", "share", 233, 2337, scope="clinician:C91")
    builder.estimate("agreement", "A2", "film", "largest", 23.37, unit="mm", n_used=2337)
    for level in ("dry", "wet"):
        own = {"reference": "confirmed", "stratum_kind": "canal_state", "stratum": level}
        counts = {"numerator": 300, "denominator": 600, "n_used": 600, "unit": "mm"}
        reason = (
            {"valid": False, "reason": "this is the reference level"} if level == "dry" else {}
        )
        for measure in ("bias_shift_adjusted", "bias_shift_crude", "sd_ratio_adjusted"):
            ends = {"lower": -0.2, "upper": -0.1} | own | counts | reason
            builder.estimate("agreement", "A7", "electronic", measure, -0.15, **ends)
    frames = {name: getattr(run, name) for name in ("estimates", "points", "lists")}
    added = {"estimates": builder.estimates, "points": builder.points, "lists": builder.lists}
    # Enough teeth that outcomes can be shown.
    outcomes = frames["estimates"]["measure"] == "share_not_healed"
    for column in ("numerator", "denominator"):
        frames["estimates"].loc[outcomes, column] *= 5
    joined = {
        name: pd.concat([frame, pd.DataFrame(added[name])], ignore_index=True)
        for name, frame in frames.items()
    }
    return RunData(run.run, **joined, findings=run.findings)


@pytest.fixture(scope="module")
def view():
    return shared_view(planted_run())


@pytest.fixture(scope="module")
def files(view, tmp_path_factory):
    folder = tmp_path_factory.mktemp("deck")
    stored = write_snapshot(view, folder / "run.json")
    formats = ("pptx", "html")
    made = render(
        SOURCE, formats, {"database": stored}, folder / "out", "deck", engine="embedded"
    )
    return {path.suffix[1:]: path for path in made}


@pytest.fixture(scope="module")
def parts(files):
    with zipfile.ZipFile(files["pptx"]) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.fixture(scope="module")
def slides(parts):
    names = [name for name in parts if re.fullmatch(r"ppt/slides/slide\d+\.xml", name)]
    names.sort(key=lambda name: int(re.sub(r"\D", "", name)))
    return [ElementTree.fromstring(parts[name]) for name in names]


def letters(element):
    return "".join(run.text or "" for run in element.iter(f"{DRAWING}t"))


def title_of(slide):
    for shape in slide.iter(f"{SLIDES}sp"):
        kind = shape.find(f"{SLIDES}nvSpPr/{SLIDES}nvPr/{SLIDES}ph")
        if kind is not None and kind.get("type") in {"title", "ctrTitle"}:
            return letters(shape)
    return ""


def boxes(slide):
    """Return (what, left, top, right, bottom) of everything that has a place of its own."""
    found = []
    for what in ("sp", "pic", "graphicFrame"):
        for shape in slide.iter(f"{SLIDES}{what}"):
            place = shape.find(f"{SLIDES}spPr/{DRAWING}xfrm")
            place = shape.find(f"{SLIDES}xfrm") if place is None else place
            if place is not None:
                x, y = (int(place.find(f"{DRAWING}off").get(key)) for key in ("x", "y"))
                w, h = (int(place.find(f"{DRAWING}ext").get(key)) for key in ("cx", "cy"))
                found.append((what, x, y, x + w, y + h))
    return found


def chunks(picture):
    kinds, position = [], 8
    while position < len(picture):
        size, kind = struct.unpack(">I4s", picture[position : position + 8])
        kinds.append(kind)
        position += size + 12
    return kinds


def test_the_deck_has_the_slides_that_were_asked_for(slides):
    assert len(slides) == 14
    assert title_of(slides[0]) == "Root-canal lengths, fillings and healing, 2026-Q2"
    assert tuple(title_of(slide) for slide in slides[1:]) == TITLES


def test_every_slide_but_the_first_has_notes_to_speak(parts):
    notes = [n for n in parts if re.fullmatch(r"ppt/notesSlides/notesSlide\d+\.xml", n)]
    assert len(notes) == 13
    for name in notes:
        assert len(letters(ElementTree.fromstring(parts[name]))) > 60


def test_every_figure_has_its_words_as_alternative_text_and_in_the_notes(slides, parts):
    spoken = " ".join(
        letters(ElementTree.fromstring(parts[name])) for name in parts if "/notesSlide" in name
    )
    pictures = [picture for slide in slides for picture in slide.iter(f"{SLIDES}pic")]
    assert len(pictures) == 5
    for picture in pictures:
        words = picture.find(f"{SLIDES}nvPicPr/{SLIDES}cNvPr").get("descr")
        assert len(words) > 60
        assert words in spoken


def test_tables_are_short_and_beside_their_figure(slides):
    tables = [table for slide in slides for table in slide.iter(f"{DRAWING}tbl")]
    assert len(tables) >= 6
    assert all(len(list(table.iter(f"{DRAWING}tr"))) <= 8 for table in tables)
    for slide in slides:
        if list(slide.iter(f"{SLIDES}pic")) and "Every pair" not in title_of(slide):
            assert list(slide.iter(f"{DRAWING}tbl"))


def test_nothing_overlaps_or_leaves_its_slide(slides):
    for slide in slides[1:]:
        placed = boxes(slide)
        assert len(placed) >= 2
        for _, left, top, right, bottom in placed:
            assert left >= 0
            assert top >= 0
            assert right <= WIDE
            assert bottom <= HIGH
        for index, one in enumerate(placed):
            for other in placed[index + 1 :]:
                apart = (
                    one[3] <= other[1] or other[3] <= one[1]
                    or one[4] <= other[2] or other[4] <= one[2]
                )  # fmt: skip
                assert apart, (title_of(slide), one, other)


def everything(files, parts):
    """Return every byte an audience gets: files as they are, and what zips hold."""
    yield from ((path.name, path.read_bytes()) for path in files.values())
    yield from parts.items()


@pytest.mark.parametrize("value", PLANTED)
def test_no_value_of_a_row_is_in_any_shared_file(value, files, parts):
    run = planted_run()
    held = "".join(
        frame.to_csv() for frame in (run.estimates, run.points, run.lists)
    ) + str(run.run)  # fmt: skip
    assert value in held
    for name, content in everything(files, parts):
        text = content.decode("utf-8", errors="ignore")
        # Pictures inside a page are base64 text: chance letters there mean nothing.
        text = re.sub(r"base64,[A-Za-z0-9+/=]+", "", text)
        if not name.endswith(".png") and not name.endswith(".pptx"):
            assert value not in text, name
        assert value.encode("utf-16-le") not in content


def test_pictures_hold_pixels_and_nothing_else(parts, files):
    import base64

    page = files["html"].read_text(encoding="utf-8")
    inside = [base64.b64decode(text) for text in re.findall(r"image/png;base64,([^\"]+)", page)]
    pictures = [content for name, content in parts.items() if name.endswith(".png")] + inside
    assert len(pictures) == 10
    assert all(set(chunks(picture)) <= PICTURE_CHUNKS for picture in pictures)


def test_no_part_carries_data_or_says_who_made_it(parts, files):
    endings = {name.rpartition(".")[2] for name in parts}
    assert endings <= {"xml", "rels", "png"}
    core = parts["docProps/core.xml"].decode()
    assert re.search(r"<dc:creator>\s*</dc:creator>|<dc:creator\s*/>", core)
    assert "1970-01-01" in core
    assert b"Macintosh" not in parts["docProps/app.xml"]
    page = files["html"].read_text(encoding="utf-8")
    assert "<svg" not in page
    assert "<script" not in page
    for _, content in everything(files, parts):
        assert tempfile.gettempdir().encode() not in content


def test_counts_on_slides_are_rounded(slides):
    flow = next(slide for slide in slides if title_of(slide).startswith("Setting"))
    cells = [letters(cell) for cell in flow.iter(f"{DRAWING}tc")]
    numbers = [int(cell) for cell in cells if cell.isdigit()]
    assert len(numbers) >= 5
    assert all(number % 5 == 0 for number in numbers)


def test_what_was_masked_is_said(slides, view):
    told = view.setting("disclosure")
    limits = letters(next(s for s in slides if title_of(s).startswith("Limits")))
    assert f"{told['masked_small']} are masked for a count under 10" in limits
    assert "rounded to 5" in limits
    assert told["masked_small"] > 0


def test_a_text_that_names_somebody_is_left_out_and_others_stay(slides):
    changed = letters(next(s for s in slides if title_of(s).startswith("What we changed")))
    assert "[text left out: it holds a code of a person or a case]" in changed
    assert "Dry the canal first" in changed


def test_words_hold_no_cause_no_rank_and_no_blame(slides, parts):
    said = [letters(slide) for slide in slides]
    said += [letters(ElementTree.fromstring(parts[n])) for n in parts if "/notesSlide" in n]
    assert banned_words(" ".join(said)) == []


def test_finishing_twice_gives_the_same_bytes_twice_and_no_time_of_the_moment(files, tmp_path):
    with zipfile.ZipFile(files["pptx"]) as archive:
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    copies = [shutil.copyfile(files["pptx"], tmp_path / f"{name}.pptx") for name in "ab"]
    first, second = (finish_slides(copy).read_bytes() for copy in copies)
    assert first == second


@pytest.mark.office
def test_the_deck_opens_in_an_office_program_with_every_table_and_figure(
    files, slides, tmp_path
):
    program = shutil.which("soffice")
    if program is None:
        pytest.skip("no office program (soffice) is on this machine")
    home = f"-env:UserInstallation={(tmp_path / 'home').as_uri()}"
    command = [program, "--headless", home, "--convert-to", "pdf", "--outdir", str(tmp_path)]
    subprocess.run(
        [*command, str(files["pptx"])], check=False, capture_output=True, timeout=180
    )
    pdf = tmp_path / "deck.pdf"
    if not pdf.is_file():
        pytest.skip("the office program on this machine has no part that opens slides")
    if shutil.which("pdftotext") is None or shutil.which("pdfimages") is None:
        pytest.skip("no poppler tools (pdftotext, pdfimages) are on this machine")
    shown = subprocess.run(["pdftotext", "-raw", pdf, "-"], capture_output=True, check=True)
    pages = shown.stdout.decode().split("\f")[:-1]
    assert len(pages) == len(slides)
    for slide, page in zip(slides, pages, strict=True):
        flat = re.sub(r"\s", "", page)
        for cell in slide.iter(f"{DRAWING}tc"):
            assert re.sub(r"\s", "", letters(cell)) in flat, title_of(slide)
    listed = subprocess.run(["pdfimages", "-list", pdf], capture_output=True, check=True)
    drawn = {line.split()[0] for line in listed.stdout.decode().splitlines()[2:]}
    with_figure = {
        str(number)
        for number, slide in enumerate(slides, 1)
        if list(slide.iter(f"{SLIDES}pic"))
    }
    assert drawn == with_figure


@pytest.mark.quarto
@pytest.mark.skipif(not quarto.is_usable(), reason="Quarto 1.6 or newer is not on PATH")
def test_quarto_makes_the_same_slides(view, slides, tmp_path):
    stored = write_snapshot(view, tmp_path / "run.json")
    (path,) = render(SOURCE, ["pptx"], {"database": stored}, tmp_path, "deck", engine="quarto")
    with zipfile.ZipFile(path) as archive:
        names = [n for n in archive.namelist() if re.fullmatch(r"ppt/slides/slide\d+\.xml", n)]
        names.sort(key=lambda name: int(re.sub(r"\D", "", name)))
        others = [ElementTree.fromstring(archive.read(name)) for name in names]
    assert [title_of(slide) for slide in others] == [title_of(slide) for slide in slides]
    for ours, theirs in zip(slides, others, strict=True):
        for kind in (f"{SLIDES}pic", f"{DRAWING}tbl"):
            assert len(list(ours.iter(kind))) == len(list(theirs.iter(kind)))
        cells = [[letters(cell) for cell in s.iter(f"{DRAWING}tc")] for s in (ours, theirs)]
        assert cells[0] == cells[1]
    assert np.all([len(list(s.iter(f"{SLIDES}pic"))) <= 1 for s in others])
