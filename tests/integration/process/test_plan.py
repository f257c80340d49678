"""Planning from the practice's own record, and without one."""

import math
from datetime import date
from pathlib import Path

import pytest

from cases_by_month import monthly_cases
from lengthwise.analyse.plan import (
    Present,
    Wish,
    cases_needed,
    expected_by,
    present_state,
    reached_in,
)
from lengthwise.cli import main
from lengthwise.errors import AnalysisError, SettingsError
from lengthwise.folder import AuditFolder
from lengthwise.statistics import planning

PRESENT = Present(
    "cases of fill_within", 300, None, 0.8, 1.5, date(2025, 1, 1), date(2025, 12, 31)
)


def test_record_fills_in_what_is_not_given() -> None:
    found = cases_needed(Wish("share", half_width=0.05), PRESENT)
    wanted = planning.cases_for_proportion(0.8, 0.05, design_effect=1.5)
    assert found == math.ceil(wanted)
    assert cases_needed(Wish("share", half_width=0.05, design_effect=1.0), PRESENT) < found


def test_finite_practice_needs_fewer() -> None:
    # n0 / (1 + (n0 - 1) / N), Cochran 1977 chapter 4: 246 of 1,000 at share 0.8 -> 198.
    wish = Wish("share", half_width=0.05, share=0.8, population=1000)
    assert cases_needed(wish, None) == 198


def test_month_in_which_the_cases_have_come() -> None:
    # 300 in 365 days: another 150 take 182.5 days, the 183rd of which is 2 July 2026.
    assert reached_in(PRESENT, 150) == "2026-07"
    assert reached_in(PRESENT, 10**7) == "not within a hundred years"


def test_expected_total_carries_the_rate_on() -> None:
    found = expected_by(PRESENT, "2026-12")
    assert found.estimate == pytest.approx(600)
    assert found.lower < 600 < found.upper
    with pytest.raises(SettingsError, match="after the last month"):
        expected_by(PRESENT, "2025-06")


def test_missing_numbers_are_asked_for_by_their_option() -> None:
    for wish, option in (
        (Wish("limit", half_width=0.1), "--sd-mm"),
        (Wish("bias", sd_mm=0.4), "--half-width"),
        (Wish("share", half_width=0.1), "--share"),
        (Wish("change", share=0.8), "--after"),
    ):
        with pytest.raises(SettingsError, match=option):
            cases_needed(wish, None)
    with pytest.raises(SettingsError, match="plan change"):
        cases_needed(Wish("change", share=0.8, after=0.8), None)


def test_record_without_a_case_is_refused() -> None:
    cases = monthly_cases([(3, 5)])
    with pytest.raises(AnalysisError, match="no cases of x"):
        present_state(cases, cases["is_met"] * float("nan"), "cases of x", date(2024, 3, 31))


def test_command_plans_from_the_demo(
    demo: AuditFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = ["--folder", str(demo.root)]
    assert main(["plan", "change", "--measure", "fill_short", "--after", "0.05", *folder]) == 0
    shown = capsys.readouterr().out
    assert "cases of fill_short in each of two periods (from 0.10 to 0.05" in shown
    assert "from 2024-01 to 2026-06" in shown
    assert main(["plan", "limit", "--half-width", "0.05", "--by", "2027-03", *folder]) == 0
    assert "Expected on record by 2027-03" in capsys.readouterr().out
    assert main(["plan", "share", "--half-width", "0.1", "--measure", "x", *folder]) == 3
    assert "--measure must be one of" in capsys.readouterr().err


def test_command_without_a_record_takes_given_numbers(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "settings.toml").write_text("", encoding="utf-8")
    plan = ["plan", "bias", "--half-width", "0.1", "--sd-mm", "0.5", "--folder", str(tmp_path)]
    assert main(plan) == 0
    wanted = planning.cases_for_bias(0.5, 0.1)
    assert f"Needed: {wanted} cases" in capsys.readouterr().out
