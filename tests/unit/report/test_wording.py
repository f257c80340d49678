import numpy as np
import pandas as pd
import pytest

from lengthwise.report import wording
from lengthwise.report.cautions import SAFETY, all_cautions


def row(estimate, lower=np.nan, upper=np.nan, **others):
    columns = {"numerator": np.nan, "denominator": np.nan, "valid": True, "reason": ""}
    columns |= {"estimate": estimate, "lower": lower, "upper": upper, "target": np.nan}
    return pd.Series(columns | others)


def test_frequency_names_counts_share_and_interval():
    value = row(0.3, 0.199, 0.425, numerator=18, denominator=60)
    assert wording.frequency(value) == "18 of 60 (30 in 100; 20 to 43 in 100)"
    assert wording.frequency(value, "canals").startswith("18 of 60 canals (")


def test_a_refusal_stands_in_the_place_of_the_number():
    value = row(np.nan, numerator=3, denominator=7, valid=False, reason="fewer than 10")
    assert wording.frequency(value) == "3 of 7; not given: fewer than 10"
    assert wording.with_interval(value) == "3 of 7; not given: fewer than 10"


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, "0"), (0.004, "under 1"), (0.125, "13"), (0.996, "over 99"), (1.0, "100")],
)
def test_shares_per_hundred_keep_the_ends_honest(share, words):
    assert wording.in_hundred(share) == words


@pytest.mark.parametrize(
    ("value", "signed", "words"),
    [
        (-0.126, True, "−0.13"),
        (0.126, True, "+0.13"),
        (-0.001, True, "0.00"),
        (2.0, False, "2.00"),
    ],
)
def test_numbers_have_a_real_minus_and_no_negative_nought(value, signed, words):
    assert wording.number(value, signed=signed) == words


def test_bias_follows_the_sign_of_the_estimate():
    longer = wording.bias_phrase(row(0.3, 0.2, 0.4), "film", "confirmed")
    shorter = wording.bias_phrase(row(-0.3, -0.4, -0.2), "film", "confirmed")
    assert "longer than" in longer
    assert "shorter than" in shorter


def test_bias_names_no_side_where_the_interval_holds_nought():
    words = wording.bias_phrase(row(0.1, -0.1, 0.3), "film", "confirmed")
    assert "longer" not in words
    assert "shorter" not in words


def test_contrast_wording_mirrors_when_the_estimate_changes_sign():
    more = wording.contrast_phrase(row(0.2, 0.1, 0.3), "beyond", "within")
    fewer = wording.contrast_phrase(row(-0.2, -0.3, -0.1), "beyond", "within")
    assert "20 more" in more
    assert "20 fewer" in fewer
    # One sentence for both directions: only the side and the interval differ.
    assert more.split("more")[0] == fewer.split("fewer")[0]


def test_contrast_shows_no_difference_where_the_interval_holds_nought():
    words = wording.contrast_phrase(row(0.2, -0.1, 0.5), "short", "within")
    assert words.startswith("no difference is shown")


def test_target_wording_says_what_the_interval_allows():
    decided = row(0.5, 0.4, 0.6, target=0.8)
    open_question = row(0.75, 0.7, 0.85, target=0.8)
    assert wording.target_phrase(decided) == "under the target 80 in 100"
    assert "the interval includes the target" in wording.target_phrase(open_question)


def test_banned_words_are_found_whole_and_across_lines():
    assert wording.banned_words("This led\nto poor results") == ["poor", "led to"]
    assert wording.banned_words("poorly stored, cause, unranked") == []


def test_cautions_and_safety_hold_no_banned_word():
    assert wording.banned_words(" ".join([*all_cautions(), SAFETY])) == []


@pytest.mark.parametrize(
    "theme",
    ["not a cause", "no advice", "X-ray", "Small numbers", "not reviewed", "under-counts"],
)
def test_every_standing_caution_is_there(theme):
    assert theme in " ".join(all_cautions())


def test_sentences_start_high_and_end_once():
    assert wording.sentence("a b.") == "A b."
    assert wording.sentence("  ") == ""


def test_a_certain_share_whose_rounded_interval_touches_the_target_is_just_under_it():
    row = pd.Series(
        {"estimate": 0.8098, "lower": 0.7667, "upper": 0.8465, "target": 0.85, "valid": True}
    )
    assert wording.target_phrase(row) == "just under the target 85 in 100"
