"""Small counts in the practice's own report: masked in tables, lists for review untouched."""

import numpy as np
import pytest

from disclosure_attack import attack, true_counts
from disclosure_runs import margins_run
from lengthwise.report import sections
from lengthwise.report.disclosure.internal import internal_view
from report_runs import build_run, empty_run


def strata(view, subject, kind="tooth_type"):
    rows = view.select(section="fill", measure="share", stratum_kind=kind, subject=subject)
    return rows.set_index("stratum")


@pytest.fixture(scope="module")
def counts():
    made = np.full((3, 2, 4), 20)
    made[0, :, 0] = (1, 2)
    return made


def test_one_to_four_are_masked_and_nought_and_five_are_not(counts):
    counts = counts.copy()
    counts[1, :, 0], counts[2, :, 0] = (0, 0), (2, 3)
    view = internal_view(margins_run(counts))
    short = strata(view, "short")
    assert short.loc["anterior", "reason"] == "masked: a count under 5"
    assert short.loc["premolar", "numerator"] == 0
    assert short.loc["molar", "valid"] or short.loc["molar", "reason"].startswith(
        "masked: shown"
    )


def test_no_whole_less_its_parts_gives_a_masked_count_back(counts):
    run = margins_run(counts)
    known, answers = attack(internal_view(run)), true_counts(run)
    cell = ("fill", "share", "short", ("tooth_type", "anterior", "2025-Q3..2025-Q4"))
    assert answers[cell] == 3
    low, high = known.range_of(cell)
    assert low <= 3 <= high
    assert high - low >= 4


def test_the_practice_as_a_whole_stays_readable(counts):
    view = internal_view(margins_run(counts))
    whole = view.select(section="fill", measure="share")
    assert whole["valid"].all()
    hidden = view.estimates["reason"].str.startswith("masked")
    assert 2 <= hidden.sum() <= 12


def test_lists_points_and_flow_are_exempt():
    run = build_run()
    view = internal_view(run)
    assert view.lists.equals(run.lists)
    assert view.points.equals(run.points)
    flow = view.estimates["section"] == "flow"
    assert not view.estimates.loc[flow, "reason"].str.startswith("masked").any()


def test_a_crude_contrast_is_hidden_with_its_share():
    run = build_run()
    small = (run.estimates["measure"] == "share_not_healed") & (
        run.estimates["subject"] == "short"
    )
    run.estimates.loc[small & (run.estimates["stratum_kind"] == ""), "numerator"] = 3
    view = internal_view(run)
    contrast = view.one(
        section="outcome", analysis="C1", measure="risk_difference", subject="short"
    )
    other = view.one(
        section="outcome", analysis="C1", measure="risk_difference", subject="beyond"
    )
    assert contrast["reason"].startswith("masked")
    assert other["valid"]


@pytest.mark.usefixtures("in_folder")
def test_the_sections_print_masks_in_the_place_of_numbers():
    view = internal_view(build_run())
    text = sections.fill_by(view, "clinician")
    assert "\\[m\\]" in text
    assert "hidden, since the count is small" in text


def test_a_run_with_nothing_analysed_stays_empty():
    assert internal_view(empty_run()).estimates.empty
