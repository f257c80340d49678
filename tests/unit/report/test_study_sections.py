"""What the slides say where numbers are masked, absent, or stand as shared before."""

import numpy as np
import pytest

from disclosure_runs import margins_run
from lengthwise.report.disclosure import as_shared, release_record, shared_view
from lengthwise.report.sections import study
from lengthwise.report.sections.study_common import of_whole_span, slide, slide_table, span
from lengthwise.report.tables import figure, text
from report_runs import build_run, empty_run

SLIDES = [getattr(study, name) for name in study.__all__ if name != "study_title"]


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize("make", SLIDES, ids=lambda make: make.__name__)
@pytest.mark.parametrize("kind", ["empty", "internal"])
def test_every_slide_has_one_title_and_notes_whatever_is_there(make, kind):
    run = {"empty": empty_run, "internal": build_run}[kind]()
    made = make(as_shared(run))
    assert made.count("\n## ") == 1
    assert made.count("::: {.notes}") == 1
    assert "nan" not in made.lower().replace("finance", "")


def test_a_run_that_is_no_shared_view_becomes_one_and_a_view_stays():
    view = as_shared(build_run())
    assert view.setting("disclosure", "profile") == "shared"
    assert as_shared(view) is view


def test_a_masked_number_is_told_by_its_mark_and_the_mark_is_explained():
    counts = np.full((3, 2, 4), 20)
    counts[:, :, 0] = 1
    made = study.fill(shared_view(margins_run(counts)))
    assert "\\[m\\]" in made
    assert "masked, since the count is small or would give a small one away" in made.replace(
        "\\", ""
    )


def test_numbers_that_stand_as_shared_before_say_so_and_keep_their_place():
    counts = np.full((1, 3, 4), 40)
    before = shared_view(margins_run(counts[:, :2]))
    counts[0, 2] = (2, 60, 40, 40)
    after = shared_view(margins_run(counts), [release_record(before)])
    made = study.fill(after)
    assert "some numbers here stand as shared before" in made.lower().replace("\\", "")
    row = next(line for line in made.splitlines() if line.startswith("| all"))
    assert "240" in row
    assert span(after) == "2025-Q3..2026-Q1"
    whole = of_whole_span(after.select(section="fill", measure="share"))
    assert len(whole) == 4


def test_a_slide_table_is_bare_on_slides_and_captioned_on_a_page():
    made = slide_table((text("A"), figure("B")), [("x", "1")], "Cap", "t")
    slides, page = made.split('when-format="html"')
    assert "Cap" not in slides
    assert ": Cap {#tbl-study-t}" in page


def test_titles_and_notes_are_letters_and_no_markup():
    made = slide("A *b* [c](d)", "body", ("{{< x >}}",))
    assert "A \\*b\\* \\[c\\]\\(d\\)" in made
    assert "{{<" not in made
