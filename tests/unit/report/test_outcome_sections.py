"""The outcome sections and figures on the hand-built run."""

import re
from dataclasses import replace

import pytest

from lengthwise.report import figures, held, sections
from lengthwise.report.wording import banned_words

MAKERS = {
    "calibration": figures.outcome_calibration,
    "levels": figures.outcome_levels,
    "healing": figures.healing_time,
    "survival": figures.tooth_survival,
    "risks": figures.standardised_risks,
}


def plain(text: str) -> str:
    return re.sub(r"\\(.)", r"\1", text)


def test_the_model_table_tells_what_went_in_and_how_it_stands(run_data, in_folder):
    shown = plain(sections.outcome_adjusted(run_data))
    for words in (
        "Terms that went in",
        "21 for 2, 10.5 a parameter",
        "at most 4 of one patient",
        "missing by term: lesion 3",
        "settled after 6 steps",
        "the odds ratio of short stays between 1.40 and 1.90",
    ):
        assert words in shown
    assert banned_words(shown) == []


def test_the_ordinal_assumption_and_the_information_missing_are_printed(run_data, in_folder):
    shown = plain(sections.outcome_adjusted(run_data))
    assert "Brant test, p = 0.210" in shown
    assert "| missing covariates imputed" in shown
    imputed = [line for line in shown.splitlines() if "missing covariates imputed" in line]
    assert imputed[0].rstrip(" |").endswith("12")


@pytest.mark.parametrize(
    ("section", "told", "measures"),
    [
        ("outcome_adjusted", f"The ordinal model: {held.INDEX}", ["odds_ratio"]),
        ("outcome_time", f"Lesions healed: {held.HEALING}", ["healed_by_12_months"]),
        ("outcome_follow_up", str(held.REVIEW), ["odds_ratio_of_review"]),
        (
            "outcome_time", f"Odds of healing in a year: {held.YEARLY}",
            ["odds_ratio_of_healing_in_a_year"],
        ),
    ],
)  # fmt: skip
def test_what_intervals_held_stands_beside_numbers_only(
    section, told, measures, run_data, in_folder
):
    assert told in plain(getattr(sections, section)(run_data))
    estimates = run_data.estimates.copy()
    own = estimates["measure"].isin(measures)
    estimates.loc[own, "valid"] = False
    estimates.loc[own, ["lower", "upper"]] = float("nan")
    without = replace(run_data, estimates=estimates)
    assert told not in plain(getattr(sections, section)(without))


def test_curves_over_time_tell_the_band_and_the_teeth_under_review(run_data):
    survival, healing = (MAKERS[name](run_data) for name in ("survival", "healing"))
    assert "any loss: by 6 months 98 (93 to 100) in 100, 98 teeth" in survival.alt_text
    assert "The axis starts at" in survival.subtitle
    assert survival.headline == "Of 100 teeth, 92 (87 to 97) were kept to 24 months."
    assert "by 24 months 48 (43 to 53) in 100" in healing.alt_text
    assert "still under review and not seen healed" in healing.subtitle


@pytest.mark.parametrize("name", MAKERS)
def test_figures_have_their_words(name, run_data):
    figure = MAKERS[name](run_data)
    assert figure.headline.endswith(".")
    assert "n = " in figure.subtitle
    assert banned_words(f"{figure.headline} {figure.subtitle} {figure.alt_text}") == []


@pytest.mark.parametrize("name", MAKERS)
def test_no_results_no_figure(name, nothing_analysed):
    assert MAKERS[name](nothing_analysed) is None
