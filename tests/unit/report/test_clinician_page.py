"""What stands on a clinician's sheet: messages, figures, goal, doubts, appendix, and its words."""

import re

import pytest

from lengthwise.report.figures.clinician_peers import clinician_peers
from lengthwise.report.figures.clinician_trend import clinician_trend
from lengthwise.report.sections import clinician_appendix as appendix
from lengthwise.report.sections import clinician_page as page
from lengthwise.report.wording import banned_words
from report_clinician_rows import SLUG, clinician_run

PARTS = (
    *(page.clinician_opening, page.clinician_safety, page.clinician_messages),
    *(page.clinician_figures, page.goal_box, page.challenge, page.figure_words),
    *(appendix.own_results, appendix.own_expected, appendix.own_safety, appendix.own_canals),
    *(appendix.own_conditions, appendix.own_score, appendix.own_limits),
)


@pytest.fixture(autouse=True)
def work_in_a_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def plain(text):
    return re.sub(r"\\(.)", r"\1", text)


def test_a_message_has_target_own_count_interval_gap_and_one_action():
    text = plain(page.clinician_messages(clinician_run()))
    first, second = text.splitlines()
    assert first == (
        "1. **Two independent methods are recorded before filling.** Target 90 in 100. 60 of 80 "
        "of your cases (75 in 100; 65 to 83); with 12 more the target is reached. **Next step:** "
        "Record a second, independent method."
    )
    assert second.startswith("2. **The electronic reading is taken in a dry canal.** Target 90")
    assert text.count("Next step:") == 2


def test_hostile_and_endless_statements_are_shown_and_not_obeyed():
    hostile = "{{< x >}} <b>$a$</b> [l](u) " + 300 * "w"
    run = clinician_run(statement=hostile)
    text = page.clinician_messages(run)
    for raw in ("<b>", "](u)", "{{<"):
        assert raw not in text
    assert hostile in plain(text)
    # Two criteria with one statement and 300 letters without a space still draw.
    assert "own-trend.png" in page.clinician_figures(run)
    assert "peers.png" in page.clinician_figures(run)


def test_without_a_message_the_sheet_says_so_and_still_draws():
    run = clinician_run(messages=False)
    assert "No criterion with enough of your cases" in page.clinician_messages(run)
    assert page.shown_criteria(run) == ["two_methods", "reading_dry", "fill_within"]
    assert "own-trend.png" in page.clinician_figures(run)


def test_peers_need_enough_clinicians_and_their_absence_is_said():
    shown = page.clinician_figures(clinician_run(peers=()))
    assert "peers.png" not in shown
    assert "Colleagues are not shown: that needs at least 5 clinicians" in plain(shown)
    assert "own-trend.png" in shown


def test_too_few_cases_leave_target_and_counts_only():
    run = clinician_run(small=True, messages=False, peers=())
    shown = plain(page.clinician_figures(run))
    assert "No quarter holds enough of your cases" in shown
    assert ".png" not in shown
    assert "4\u00a0of\u00a08" in appendix.own_results(run)


def test_figures_hold_targets_own_numbers_and_peers_without_the_own_point():
    run = clinician_run()
    peers = clinician_peers(run, page.shown_criteria(run))
    drawn = peers.plot.layers[0].geom.data
    assert len(drawn) == 10
    assert "5 colleagues from 70 to 90" in peers.alt_text
    assert "yours 75, target 90" in peers.alt_text
    trend = clinician_trend(run, page.shown_criteria(run))
    assert "100 in 2024-Q3, 85 in 2026-Q2, target 90" in trend.alt_text
    assert all(name.endswith(f".clinician-{SLUG}") for name in trend.result_ids)


def test_the_goal_box_is_left_empty():
    text = page.goal_box(clinician_run())
    inside = text.partition("do for it:")[2].replace(":::", "").strip()
    assert set(inside) <= {"\\", " ", "\n"}


def test_a_number_can_be_challenged_by_the_sheets_number():
    text = plain(page.challenge(clinician_run()))
    assert SLUG in text
    assert "source rows of any number" in text


def test_the_appendix_shows_conditions_canals_and_expected_counts():
    run = clinician_run()
    assert "Read in a wet canal" in plain(appendix.own_conditions(run))
    assert "4\u00a0of\u00a012" in appendix.own_conditions(run)
    assert "12 of 64" in plain(appendix.own_canals(run))
    assert "Not met: The filling ends within the preset" in plain(appendix.own_expected(run))


def test_a_change_of_own_cases_and_a_private_score_are_told_where_there_are_any():
    assert appendix.own_score(clinician_run()) == ""
    run = clinician_run(private=True)
    assert (
        "Not met: The filling ends within the preset: Own cases changed most likely with 2025-Q4."
        in plain(appendix.own_expected(run))
    )
    score = plain(appendix.own_score(run))
    assert "the score passed its threshold in 2026-05" in score
    assert "after 500 own cases on average" in score


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.__name__)
@pytest.mark.parametrize(
    "options", [{"private": True}, {"small": True, "messages": False, "peers": ()}]
)
def test_words_are_neutral_and_no_code_is_named(part, options):
    text = plain(part(clinician_run(**options)))
    assert banned_words(text) == []
    assert not re.search(r"\bC01\b|clinician:", text)
