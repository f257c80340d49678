import inspect
import re

import pytest

from lengthwise.report import sections
from lengthwise.report.sections.common import document_kind
from lengthwise.report.sections.messages import messages
from lengthwise.report.sections.opening import title
from lengthwise.report.wording import banned_words
from report_runs import build_run

KINDS = ("quarter", "clinician", "tooth_type")


def calls():
    for name in sections.__all__:
        function = getattr(sections, name)
        kinds = KINDS if "kind" in inspect.signature(function).parameters else (None,)
        for kind in kinds:
            arguments = () if kind is None else (kind,)
            yield pytest.param(function, arguments, id=f"{name}-{kind or 'all'}")


@pytest.mark.parametrize(("function", "arguments"), list(calls()))
def test_every_section_shows_a_whole_run(function, arguments, run_data, in_folder):
    shown = function(run_data, *arguments)
    assert len(shown) > 20
    assert "Not analysed" not in shown
    assert "nan" not in shown.lower().split()
    assert banned_words(shown.replace("\\", "")) == []


@pytest.mark.parametrize(("function", "arguments"), list(calls()))
def test_every_section_copes_with_an_empty_run(
    function, arguments, nothing_analysed, in_folder
):
    assert function(nothing_analysed, *arguments).strip()
    assert not list(in_folder.iterdir())


@pytest.mark.parametrize("name", ["agreement_table", "fill_overall", "outcome_crude", "flow"])
def test_absent_results_are_said_in_words(name, nothing_analysed):
    assert getattr(sections, name)(nothing_analysed) == "Not analysed in this run.\n"


@pytest.mark.parametrize("missing", ["criteria", "actions", "re_audit_date"])
def test_it_is_called_an_audit_only_when_its_parts_are_there(missing):
    whole, lacking = (
        build_run(),
        build_run(**{missing: [] if missing != "re_audit_date" else ""}),
    )
    assert document_kind(whole) == "Audit"
    assert document_kind(lacking) == "Service evaluation"
    assert "Not called an audit" in sections.opening(lacking)


def test_criteria_without_targets_make_no_audit():
    criteria = [{"id": "x", "statement": "y"}]
    assert document_kind(build_run(criteria=criteria)) == "Service evaluation"


def test_title_tells_kind_and_period(run_data):
    assert title(run_data).startswith("Audit of ")
    assert title(run_data).endswith("2026-Q2")


def test_summary_has_three_to_five_messages_certain_ones_first(run_data):
    found = messages(run_data)
    assert 3 <= len(found) <= 5
    certain = [message.is_certain for message in found]
    assert certain == sorted(certain, reverse=True)
    sizes = [message.size for message in found if not message.is_certain]
    assert sizes == sorted(sizes, reverse=True)


def test_page_one_answers_methods_fillings_and_outcome(run_data):
    texts = [message.text for message in messages(run_data)]
    assert sum("Steadiest method: paper point" in text for text in texts) == 1
    assert sum("ended outside the preset" in text for text in texts) == 1
    assert sum(text.startswith("Not healed at review") for text in texts) == 1


def test_the_fill_message_counts_what_ended_outside(run_data):
    row = run_data.one(section="fill", subject="within", measure="share")
    (message,) = (m for m in messages(run_data) if "outside the preset" in m.text)
    outside = int(row["denominator"] - row["numerator"])
    assert message.text.startswith(f"{outside} of {int(row['denominator'])} fillings")
    assert message.result_id == row["result_id"]


def test_page_one_shows_targets_and_changes_since_both_quarters(run_data):
    shown = sections.summary(run_data).replace("\\", "").replace("\u00a0", " ")
    assert "Since 2026-Q1 (points)" in shown
    assert "Since 2025-Q2 (points)" in shown
    line = next(line for line in shown.splitlines() if line.startswith("| Two independent"))
    assert "171 of 214" in line
    assert "+10 (+2 to +18)*" in line


def test_what_to_do_next_starts_with_the_safety_lists_and_ends_with_measuring_again(run_data):
    steps = sections.summary(run_data).partition("### What to do next")[2]
    items = [line for line in steps.splitlines() if line.startswith("- ")]
    assert "3 cases listed under Cases to look at first" in items[0]
    assert "Measure again in 2026" in items[-1]
    assert any("No open action covers it" in item for item in items[1:-1])


def test_an_open_action_is_named_where_it_covers_the_gap():
    action = {
        "criterion": "two_methods",
        "status": "open",
        "owner_role": "Lead",
        "due": "2026-Q4",
    }
    shown = sections.summary(build_run(actions=[action])).replace("\\", "")
    assert "Action 1 is open: Lead, due 2026-Q4." in shown


def test_the_meeting_is_asked_questions_and_told_no_answer(run_data):
    shown = sections.prompts(run_data)
    questions = [line for line in shown.splitlines() if line.startswith("- ")]
    assert len(questions) >= 4
    assert all(line.replace("\\", "").endswith("?") for line in questions)


def test_methods_used_are_listed_with_their_sources(run_data):
    shown = sections.methods(run_data)
    for name in run_data.estimates["analysis"].unique():
        assert f"| {name} |" in shown.replace("\\", "")
    assert shown.count("doi") >= 15


def test_a_gap_is_told_in_points_and_in_cases(run_data):
    shown = sections.criteria_results(run_data).replace("\\", "")
    line = next(line for line in shown.splitlines() if line.startswith("| Two independent"))
    cells = [cell.strip() for cell in line.strip("|").split("|")]
    # 171 of 214 are 79.9 in 100 against a target of 90; 22 more would make 193.
    assert cells[4:7] == ["90", "−10", "22"]


def test_exceptions_have_a_column_only_where_a_criterion_has_one(run_data):
    assert "no canal found" in sections.criteria_statements(run_data)
    bare = build_run(criteria=[{"id": "x", "statement": "y", "target": 0.5}])
    shown = sections.criteria_statements(bare)
    assert "Exceptions" not in shown
    assert "none has exceptions" in shown


def test_the_safety_box_says_what_to_do(run_data, nothing_analysed):
    for run in (run_data, nothing_analysed):
        shown = sections.safety_notice(run)
        assert "Clinical review now; urgent referral if numbness or spreading swelling" in shown


def test_safety_lists_show_every_case(run_data):
    shown = sections.safety_lists(run_data)
    for key in ("T0031", "T0042", "T0077"):
        assert key in shown


def test_a_refused_method_shows_its_reason_in_place_of_the_number(run_data):
    line = next(
        line for line in sections.agreement_table(run_data).splitlines() if "cone" in line
    )
    assert "fewer than 10 pairs" in line


def test_agreement_is_never_offered_as_accuracy(run_data, in_folder):
    assert "agreement and not accuracy" in sections.agreement_figures(run_data)


def test_figures_land_in_the_working_folder_with_their_alternative_text(run_data, in_folder):
    shown = sections.agreement_figures(run_data)
    assert (in_folder / "figures" / "agreement-1.png").is_file()
    assert shown.count("fig-alt=") == len(list((in_folder / "figures").iterdir()))


def test_the_film_limit_stands_under_the_level_table(run_data):
    shown = sections.fill_overall(run_data)
    assert shown.index("under-counts") > shown.index("tbl-fill-levels")


def test_the_crude_table_names_its_test(run_data, in_folder):
    assert "Fisher" in sections.outcome_crude(run_data)


def test_hostile_settings_are_escaped_everywhere(hostile_text, in_folder):
    criteria = [{"id": "x", "statement": hostile_text, "target": 0.5}]
    actions = [{"gap": hostile_text, "action": hostile_text}]
    run = build_run(practice_name=hostile_text, criteria=criteria, actions=actions)
    shown = "".join(
        function(run)
        for function in (
            *(sections.opening, sections.criteria_statements),
            *(sections.actions, sections.manifest),
        )
    )
    assert "{{<" not in shown
    assert not re.search(r"(?<!\\)<script", shown)
    assert not re.search(r"(?<!\\)\]\(http", shown)
    assert "\u202e" not in shown


def test_manifest_holds_run_hashes_and_versions(run_data):
    shown = sections.manifest(run_data).replace("\\", "")
    assert "run-2026q2-a" in shown
    assert "ab" * 8 in shown
    assert "duckdb" in shown
