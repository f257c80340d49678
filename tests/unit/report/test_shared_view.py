"""What may leave the practice: named results only, masked, rounded, and nothing beside them."""

import json

import numpy as np
import pandas as pd
import pytest

from disclosure_runs import margins_run, some_counts
from lengthwise.report.disclosure import release_record, shared_view
from lengthwise.report.disclosure.periods import relation
from lengthwise.report.disclosure.profiles import Profile, profile_of
from lengthwise.report.disclosure.texts import HIDDEN_TEXT, rounded_words
from lengthwise.report.run_data import RunData
from report_runs import build_run, empty_run

SHARED = Profile("shared", 10, 5, True)


@pytest.fixture(scope="module")
def run():
    return build_run()


@pytest.fixture(scope="module")
def view(run):
    return shared_view(run)


def level(run, name, **wanted):
    return run.one(section="fill", measure="share", subject=name, **wanted)


def table(short, within, beyond, hidden, quarters=1):
    """Return counts of one tooth type in which each quarter is the same."""
    return np.tile(np.array([short, within, beyond, hidden]), (1, quarters, 1))


def test_nothing_but_named_results_of_the_whole_practice_is_in_it(view):
    assert set(view.estimates["scope"]) == {"practice"}
    assert not {"clinician", "site"} & set(view.estimates["stratum_kind"])
    assert set(view.estimates["measure"]) <= {
        *("count", "share", "bias", "sd", "lower_limit", "upper_limit", "share_within_0_5"),
        *("share_within_1_0", "share_not_healed", "risk_difference", "standardised_risk"),
        *("own_sd", "relative_bias", "rank", "chance_most_precise", "within_sd"),
        *(
            "bias_shift_crude",
            "bias_shift_adjusted",
            "sd_ratio_crude",
            "sd_ratio_adjusted",
            "share_doubtful",
            "share_of_fillings",
        ),
        *("share_difference", "share_before", "share_after", "share_change"),
    }
    assert view.points.empty
    assert view.lists.empty
    assert view.findings.empty
    assert view.run["inputs"] == []


def test_who_and_when_are_told_no_more_closely_than_needed(run, view):
    text = json.dumps(view.run, default=str)
    for value in ("Demo practice", "ab" * 32, "09:30", "run-2026q2-a", "20 of 214"):
        assert value not in text
    assert view.run["created_at"] == "2026-07-03"


def test_every_count_is_a_multiple_of_five_and_every_share_follows_from_them(view):
    counts = view.estimates[["numerator", "denominator", "n_used"]].astype(float)
    shown = counts.stack().dropna()
    assert len(shown) > 50
    assert set(shown % 5) == {0.0}
    assert counts[["numerator", "denominator"]].min().min() >= 10
    shares = view.estimates[
        view.estimates["measure"].str.startswith("share") & view.estimates["valid"]
    ]
    shares = shares[shares["unit"] == "proportion"].dropna(subset=["numerator"])
    assert len(shares) > 20
    assert (shares["estimate"] == shares["numerator"] / shares["denominator"]).all()


@pytest.mark.parametrize(
    ("counts", "hidden"),
    [
        ((9, 60, 20, 30), "short"),
        ((1, 60, 20, 30), "short"),
        ((0, 60, 20, 30), "short"),
        ((20, 60, 0, 30), "beyond"),
        ((20, 60, 20, 4), "not_assessable"),
    ],
)
def test_a_small_count_is_masked_and_says_so(counts, hidden):
    view = shared_view(margins_run(table(*counts)))
    row = level(view, hidden)
    assert not row["valid"]
    assert row["reason"] == "masked: a count under 10, or all cases but so few"
    assert (
        row[["estimate", "lower", "upper", "numerator", "denominator", "n_used"]].isna().all()
    )


@pytest.mark.parametrize("others", [(0, 0), (3, 2), (9, 0)])
def test_a_share_of_all_cases_or_nearly_all_is_masked(others):
    view = shared_view(margins_run(table(others[0], 80, others[1], 30)))
    assert not level(view, "within")["valid"]


def test_a_small_number_of_patients_is_not_told():
    run = build_run()
    bias = (run.estimates["measure"] == "bias") & (run.estimates["subject"] == "film")
    run.estimates.loc[bias, "n_clusters"] = 9
    row = shared_view(run).one(section="agreement", measure="bias", subject="film")
    assert row["valid"]
    assert np.isnan(row["n_clusters"])
    assert row["n_used"] == 185


def test_ten_and_more_are_shown_rounded():
    row = level(shared_view(margins_run(table(12, 61, 33, 18))), "short")
    assert row["valid"]
    assert (row["numerator"], row["denominator"]) == (10, 105)


def test_small_groups_are_masked_whole():
    view = shared_view(margins_run(table(3, 4, 2, 0)))
    assert not view.estimates[view.estimates["section"] == "fill"]["valid"].any()


@pytest.mark.parametrize("counts", [(12, 61, 33, 18), (11, 61, 34, 19), (12, 62, 33, 18)])
def test_counts_of_one_rounding_give_one_view(counts):
    views = [shared_view(margins_run(table(*c))) for c in (counts, (12, 61, 33, 18))]
    kept = ["measure", "subject", "numerator", "denominator", "estimate", "lower", "upper"]
    first, second = (
        view.estimates[view.estimates["section"] == "fill"][kept] for view in views
    )
    pd.testing.assert_frame_equal(first, second)


def test_a_count_told_in_two_tables_is_hidden_in_both():
    view = shared_view(margins_run(table(20, 60, 1, 30)))
    within = [
        view.one(section="fill", subject="beyond", measure="share", stratum_kind=kind)
        for kind in ("", "quarter", "tooth_type")
    ]
    assert [row["valid"] for row in within] == [False, False, False]
    everywhere = margins_run(table(4, 60, 1, 30))
    rows = shared_view(everywhere).estimates
    rows = rows[
        (rows["subject"].isin(["within", "fill_within"])) & (rows["measure"] == "share")
    ]
    assert len(rows) == 4
    assert not rows["valid"].any()


def test_a_fitted_risk_is_hidden_with_the_crude_one_it_comes_near_to():
    view = shared_view(build_run())
    crude = view.select(section="outcome", analysis="C1", measure="share_not_healed")
    assert not crude["valid"].any()
    fitted = view.estimates[view.estimates["analysis"] == "C4"]
    assert len(fitted) >= 3
    assert not fitted["valid"].any()


def test_texts_that_name_a_person_or_a_case_are_left_out(run):
    actions = [{"action": "C03 to dry the canal", "status": "open", "gap": "3 of 41"}]
    settings = run.settings | {"actions": actions}
    own = RunData(
        run.run | {"settings": settings}, run.estimates, run.points, run.lists, run.findings
    )
    (action,) = shared_view(own).setting("actions")
    assert action == {"action": HIDDEN_TEXT, "status": "open"}


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("only 13 patients: wide", "only 15 patients: wide"),
        ("only 7 patients", "only under 10 patients"),
        ("fewer than 10 pairs", "fewer than 10 pairs"),
        ("fewer than 10 pairs (6)", "fewer than 10 pairs (under 10)"),
        ("estimated below 0 and set to 0: tooth", "estimated below 0 and set to 0: tooth"),
        ("set in 2026-Q2 by CR2 at 0.95", "set in 2026-Q2 by CR2 at 0.95"),
    ],
)
def test_counts_in_words_are_rounded_and_thresholds_are_not(text, shown):
    assert rounded_words(text, SHARED) == shown


def test_minimum_and_base_come_from_the_settings():
    run = build_run(
        disclosure={"shared_minimum": 20, "rounding_base": 10, "internal_minimum": 3}
    )
    assert profile_of(run, "shared") == Profile("shared", 20, 10, True)
    assert profile_of(run, "internal") == Profile("internal", 3, 1, False)
    with pytest.raises(ValueError, match="internal or shared"):
        profile_of(run, "public")


def test_a_run_with_nothing_analysed_gives_an_empty_view():
    view = shared_view(empty_run())
    assert view.estimates.empty
    assert view.setting("disclosure", "masked_small") == 0


def test_what_was_masked_is_counted(view):
    told = view.setting("disclosure")
    masked = view.estimates["reason"].str.startswith("masked")
    assert masked.sum() == sum(
        told[n] for n in ("masked_small", "masked_to_protect", "masked_earlier")
    )
    assert told["results"] == len(view.estimates)


@pytest.mark.parametrize(
    ("earlier", "later", "kind"),
    [
        ("2026-Q1", "2026-Q1", "same"),
        ("2024-Q1..2026-Q1", "2024-Q1..2026-Q2", "longer"),
        ("2025-05..2026-03", "2025-05..2026-06", "longer"),
        ("2026-Q1", "2026-Q2", "apart"),
        ("2026-Q1", "2024-Q1..2026-Q2", "longer"),
        ("2024-Q1..2026-Q1", "2026-Q1", "overlapping"),
        ("2024-Q1..2026-Q1", "2024-Q2..2026-Q2", "overlapping"),
        ("2024-Q1..2026-Q2", "2024-Q1..2026-Q1", "overlapping"),
        ("all", "2026-Q1", "overlapping"),
    ],
)
def test_periods_lie_to_each_other(earlier, later, kind):
    assert relation(earlier, later) == kind


def test_the_same_release_again_is_the_same(run, view):
    again = shared_view(run, [release_record(view)])
    told = ["estimate", "lower", "upper", "numerator", "denominator", "n_used", "valid"]
    pd.testing.assert_frame_equal(again.estimates[told], view.estimates[told])


def test_a_small_correction_of_a_shared_period_is_masked():
    before = shared_view(margins_run(table(20, 60, 30, 20)))
    corrected = shared_view(margins_run(table(24, 60, 30, 20)), [release_record(before)])
    row = level(corrected, "short")
    assert (
        row["reason"] == "masked: with the pack shared before, it would give away too few cases"
    )


def test_what_was_masked_for_a_period_stays_masked():
    before = shared_view(margins_run(table(8, 60, 30, 20)))
    again = shared_view(margins_run(table(40, 60, 30, 20)), [release_record(before)])
    assert not level(again, "short")["valid"]


def test_too_little_added_leaves_the_number_that_was_shared():
    counts = table(20, 80, 30, 20, quarters=3)
    before = shared_view(margins_run(counts[:, :2]))
    counts[0, 2] = (2, 40, 20, 20)
    after = shared_view(margins_run(counts), [release_record(before)])
    row = level(after, "short")
    assert (row["period"], row["numerator"]) == ("2025-Q3..2025-Q4", 40)
    assert row["reason"].startswith("as shared before, for 2025-Q3 to 2025-Q4")
    canals = after.one(section="flow", subject="canals")
    assert (canals["period"], canals["numerator"]) == ("2025-Q3..2026-Q1", 395)
    quarters = after.select(section="fill", subject="within", stratum_kind="quarter")
    assert list(quarters["numerator"]) == [80, 80, 40]


def test_a_rolling_window_over_a_shared_span_is_masked():
    run = margins_run(some_counts(mean=(40, 90, 40, 40)))
    record = release_record(shared_view(run))
    for entry in record["results"]:
        entry["period"] = entry["period"].replace("2025-Q3..", "2025-Q2..")
    rolled = shared_view(run, [record])
    spans = rolled.estimates[rolled.estimates["period"].str.contains("..", regex=False)]
    assert len(spans)
    assert not spans["valid"].any()


def test_a_record_holds_nothing_that_the_view_does_not(view):
    record = json.loads(json.dumps(release_record(view)))
    assert len(record["results"]) == len(view.estimates)
    masked = [entry for entry in record["results"] if not entry["shown"]]
    assert masked
    assert all("numerator" not in entry and "estimate" not in entry for entry in masked)
