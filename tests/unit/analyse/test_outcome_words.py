"""The report's words on two published tables whose direction for `beyond` is opposite."""

import re

import pandas as pd
import pytest
from teeth import PERIOD, teeth_from_counts

from lengthwise.analyse.outcomes import analyse_outcomes
from lengthwise.analyse.rows import ResultRows
from lengthwise.report import figures, sections
from lengthwise.report.run_data import RunData, from_frames
from lengthwise.report.sections.messages import messages
from lengthwise.report.wording import banned_words
from lengthwise.settings import FollowUp, Settings

# Reconstructed from the rates of IADR abstract 14iags 189964, and printed counts of Terauchi
# and others 2023, J Endod 49:664-674: {level: (not healed, n)}.
OTAGO = {"within": (5, 80), "short": (6, 17), "beyond": (2, 3)}
TERAUCHI = {"within": (13, 103), "short": (43, 53), "beyond": (9, 108)}
# Invented: as Terauchi, with numbers large enough for a difference below nought to be shown.
FEWER = {"within": (60, 200), "short": (90, 150), "beyond": (15, 150)}
MORE = {"within": (15, 150), "short": (15, 150), "beyond": (60, 200)}


def run_of(counts: dict[str, tuple[int, int]], settings: Settings | None = None) -> RunData:
    return run_from(teeth_from_counts(counts), settings or Settings())


def run_from(teeth: pd.DataFrame, settings: Settings | None = None) -> RunData:
    chosen = settings or Settings()
    rows = ResultRows()
    analyse_outcomes(rows, teeth, PERIOD, chosen)
    run = {"period": "2026-Q2", "settings": chosen.as_dict(), "inputs": [], "versions": {}}
    frames = {
        "run": run,
        "estimates": pd.DataFrame(rows.estimates),
        "points": pd.DataFrame(
            rows.points, columns=["figure", "panel", "series", "position", "label", "x", "y"]
        ),
        "lists": pd.DataFrame(columns=["list_name", "position"]),
    }
    return from_frames(frames)


def plain(text: str) -> str:
    return re.sub(r"\\(.)", r"\1", text)


@pytest.fixture
def shown(request, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run_data = run_of(request.param)
    return {
        "crude": plain(sections.outcome_crude(run_data)),
        "risks": plain(sections.outcome_risks(run_data)),
        "model": plain(sections.outcome_adjusted(run_data)),
        "summary": " ".join(message.text for message in messages(run_data)),
        "figure": figures.outcome_levels(run_data).headline,
    }


@pytest.mark.parametrize("shown", [OTAGO], indirect=True)
def test_a_level_of_three_teeth_is_counted_and_not_told_as_a_rate(shown):
    assert "2 of 3" in shown["crude"].replace("\u00a0", " ")
    assert "n = 3: unstable" in shown["crude"]
    for place in ("summary", "figure", "risks"):
        assert "29 more were not healed" in shown[place]
        assert not re.search(r"filled beyond, \d+ (more|fewer)", shown[place])
    for place in ("risks", "model"):
        assert "n = 3: unstable, read the counts only" in shown[place]
    assert "Fisher" in shown["crude"] or "exact" in shown["crude"].lower()


@pytest.mark.parametrize("shown", [TERAUCHI], indirect=True)
def test_beyond_below_within_is_told_as_no_difference_shown(shown):
    for place in ("summary", "figure", "risks"):
        assert "no difference is shown between beyond and within" in shown[place].lower()
        assert "of 100 teeth filled short, 69 more were not healed" in shown[place].lower()
        assert not re.search(r"filled beyond, \d+ more", shown[place])


@pytest.mark.parametrize(
    ("shown", "side", "other"),
    [(FEWER, "fewer", "more"), (MORE, "more", "fewer")],
    indirect=["shown"],
)
def test_words_for_beyond_follow_the_sign(shown, side, other):
    for place in ("summary", "figure", "risks"):
        assert f"of 100 teeth filled beyond, 20 {side} were not healed" in shown[place].lower()
        assert f"filled beyond, 20 {other}" not in shown[place].lower()


@pytest.mark.parametrize("shown", [OTAGO, TERAUCHI, FEWER, MORE], indirect=True)
def test_no_words_of_cause_and_no_verdict(shown):
    for text in shown.values():
        assert banned_words(text) == []


@pytest.mark.parametrize("shown", [TERAUCHI], indirect=True)
def test_odds_ratios_stay_out_of_the_text(shown):
    assert "odds ratio" not in shown["risks"].lower()
    assert "Odds ratio" in shown["model"]
    assert "E-value" in shown["model"]


def test_all_healed_prints_the_reason_where_the_ratio_would_stand(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run_data = run_of({"within": (0, 40), "short": (0, 20), "beyond": (0, 15)})
    for shown in (sections.outcome_adjusted(run_data), sections.outcome_risks(run_data)):
        assert "0 events, fewer than 5: crude table only" in plain(shown)


def test_the_choice_of_review_and_reading_is_printed(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    usual = plain(sections.outcome_crude(run_of(TERAUCHI)))
    assert "the review nearest 12 months, first reading of each film" in usual
    rule = FollowUp(choice="latest", reader_rule="consensus", first_countable_months=6)
    other = plain(sections.outcome_crude(run_of(TERAUCHI, Settings(follow_up=rule))))
    assert "reviewed at 6 months or later, the latest review, consensus reading" in other


def test_a_reference_of_few_teeth_flags_every_contrast(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run_data = run_of({"within": (3, 8), "short": (9, 40), "beyond": (8, 30)})
    words = "n = 8 filled within: unstable, read the counts only"
    for section in (sections.outcome_crude, sections.outcome_risks, sections.outcome_adjusted):
        assert words in plain(section(run_data))
    assert not any("were not healed than" in message.text for message in messages(run_data))


def test_a_level_without_teeth_prints_the_reason(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run_data = run_of({"within": (5, 40), "short": (6, 20)})
    assert "no tooth filled beyond was reviewed" in plain(sections.outcome_adjusted(run_data))
    assert "no tooth filled beyond has a countable review" in plain(
        sections.outcome_crude(run_data)
    )


def test_a_preset_with_a_flush_level_shows_it_in_both_tables(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    counts = {"within": (12, 80), "flush": (9, 40), "short": (10, 40), "beyond": (8, 30)}
    run_data = run_of(counts, Settings(preset="0.5-2"))
    for shown in (sections.outcome_crude(run_data), sections.outcome_risks(run_data)):
        rows = [line for line in plain(shown).splitlines() if line.startswith("| flush")]
        assert len(rows) == 1
    for drawn in (figures.outcome_levels(run_data), figures.standardised_risks(run_data)):
        assert "flush: " in drawn.alt_text
        assert "flush" in drawn.headline


def test_tipping_point_is_told_in_words(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    # 8 of 40 within, 6 of 20 short, 20 more short not reviewed: 0.2 * 40 = 8 = 6 + 2, and 6 of
    # the 20 at the share seen, so 4 fewer.
    seen = teeth_from_counts({"within": (8, 40), "short": (6, 20)})
    unseen = teeth_from_counts({"short": (0, 20)}).assign(
        treatment_id=[f"U{i}" for i in range(20)],
        patient_id=[f"Q{i}" for i in range(20)],
        outcome="not_reviewed",
        is_not_healed=pd.array([pd.NA] * 20, dtype="boolean"),
    )
    shown = plain(
        sections.outcome_follow_up(run_from(pd.concat([seen, unseen], ignore_index=True)))
    )
    assert "If 4 fewer of the 20 teeth filled short and not reviewed had not healed" in shown
    assert "the difference of short to within would vanish" in shown
