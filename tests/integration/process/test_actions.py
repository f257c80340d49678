"""Actions: the file's errors by number, B7 on the demo, and what the report says of it."""

import tomllib

import pandas as pd
import pytest

from folders import DEMO
from lengthwise.analyse.actions import analyse_actions, checked_actions
from lengthwise.analyse.measures import Measure
from lengthwise.analyse.rows import ResultRows
from lengthwise.errors import SettingsError
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.actions import actions
from lengthwise.report.wording import banned_words
from lengthwise.settings import Settings

TRUTH = tomllib.loads((DEMO / "truth.toml").read_text(encoding="utf-8"))
ACTION = {
    "gap": "g", "action": "a", "owner_role": "lead", "due": "2025-Q3", "measure": "m",
    "status": "open", "criterion": "fill_within", "from_month": "2025-05",
}  # fmt: skip
CRITERIA = ({"id": "fill_within", "table": "fills"},)


def _settings(**changed: str) -> Settings:
    item = {key: value for key, value in (ACTION | changed).items() if value != "absent"}
    return Settings(criteria=CRITERIA, actions=(ACTION, item))


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"gap": "absent"}, "action 2: gap is missing"),
        ({"due": " "}, "action 2: due is missing"),
        ({"status": "finished"}, "action 2: status must be one of open, done, stopped"),
        ({"criterion": "fill_witin"}, "criterion must be an id of criteria.toml"),
        ({"from_month": "2025-13"}, "from_month is written like 2026-05"),
        ({"from_month": "2025-Q2"}, "from_month is written like 2026-05"),
        ({"criterion": "absent"}, "from_month needs a criterion"),
        ({"ower_role": "x"}, "unknown entry ower_role"),
    ],
)
def test_an_action_that_cannot_be_followed_is_named(
    changed: dict[str, str], words: str
) -> None:
    with pytest.raises(SettingsError, match=words):
        checked_actions(_settings(**changed))


def test_a_plain_action_without_criterion_is_kept() -> None:
    settings = _settings(criterion="absent", from_month="absent")
    assert len(checked_actions(settings)) == 2


def test_demo_action_moved_the_share_short_as_planted(demo_run: RunData) -> None:
    common = {"analysis": "B7", "stratum_kind": "action", "stratum": "1"}
    rows = demo_run.select(subject="fill_short", **common).set_index("measure")
    change = rows.loc["share_change"]
    before, after = rows.loc["share_before"], rows.loc["share_after"]
    planted = TRUTH["filling"]["action_short_odds_ratio"]["size"]
    odds = after["estimate"] / (1 - after["estimate"])
    odds_before = before["estimate"] / (1 - before["estimate"])
    assert change["upper"] < 0
    assert change["estimate"] == pytest.approx(after["estimate"] - before["estimate"])
    # The interval of the change, carried to the odds, holds the planted ratio.
    shifted = [before["estimate"] + change[end] for end in ("lower", "upper")]
    ratios = [share / (1 - share) / odds_before for share in shifted]
    assert ratios[0] < planted < ratios[1]
    assert ratios[0] < odds / odds_before < ratios[1]
    assert (before["period"], after["period"]) == ("2024-01..2025-04", "2025-05..2026-06")
    assert "has lasted" in rows.loc["sustained", "reason"]


def test_an_action_of_three_months_is_too_early_to_judge(demo_run: RunData) -> None:
    row = demo_run.one(
        analysis="B7", subject="read_dry", measure="sustained", stratum_kind="action",
        stratum="2",
    )  # fmt: skip
    assert row is not None
    assert row["reason"].startswith("too early to say")


def test_report_puts_open_actions_first_and_claims_no_cause(demo_run: RunData) -> None:
    shown = actions(demo_run).replace("\\", "")
    assert shown.index("| open |") < shown.index("| done |")
    assert shown.index("Action 2, from 2026-04") < shown.index("Action 1, from 2025-05")
    assert "The filling ends short: before (2024-01 to 2025-04)" in shown
    assert "other changes at the same time" in shown
    assert banned_words(shown) == []


def test_a_small_period_gives_counts_and_no_change() -> None:
    months = ["2025-01"] * 30 + ["2025-05"] * 4
    cases = pd.DataFrame(
        {
            "patient_id": [f"P{number}" for number in range(34)],
            "month": months,
            "is_met": [number % 2 == 0 for number in range(34)],
        }
    )
    rows = ResultRows()
    settings = Settings(criteria=CRITERIA, actions=(ACTION,))
    analyse_actions(rows, [Measure("fill_within", cases, 0.85, True)], settings)
    table = pd.DataFrame(rows.estimates).set_index("measure")
    assert not table.loc["share_change", "valid"]
    assert table.loc["share_change", "reason"] == "4 cases after, fewer than 10: counts only"
    assert (table.loc["share_after", "numerator"], table.loc["share_after", "denominator"]) == (
        2,
        4,
    )
