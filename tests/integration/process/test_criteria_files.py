"""Criteria as data: an edited file changes results and report; versions hold from their quarter."""

import duckdb
import pytest

from folders import folder_with
from lengthwise import run
from lengthwise.analyse.criteria import checked_criteria, in_force
from lengthwise.cli import main
from lengthwise.errors import SettingsError
from lengthwise.folder import AuditFolder
from lengthwise.report.run_data import RunData, load_run
from lengthwise.report.sections.opening import opening
from lengthwise.report.sections.purpose import criteria_results, criteria_statements, purpose
from lengthwise.settings import Settings
from lengthwise.store.criteria import criterion_cases

RULE = {
    "id": "own_rule", "statement": "Two methods are recorded before filling",
    "rationale": "agreed at the meeting", "source": "common practice, no source",
    "table": "canal_conduct", "denominator": "true", "numerator": "methods >= 2",
    "direction": "at_least", "target": 0.5, "owner": "quality lead", "version": 1,
    "valid_from": "2025-Q1",
}  # fmt: skip


def _toml(*rules: dict[str, object]) -> str:
    lines = []
    for rule in rules:
        lines.append("[[criterion]]")
        for name, value in rule.items():
            said = value if isinstance(value, (int, float)) else f'"{value}"'
            lines.append(f"{name} = {said}")
    return "\n".join(lines) + "\n"


def _exports() -> dict[str, str]:
    """Twelve canals in each of two quarters: 9 with two methods, 3 of them with three."""
    treatments = ["treatment_id,patient_id,clinician_id,tooth,period"]
    canals = ["treatment_id,canal,confirmed_length_mm"]
    readings = ["treatment_id,canal,method,length_mm"]
    for quarter in ("2025-Q4", "2026-Q1"):
        for number in range(12):
            key = f"{quarter}-{number:02d}"
            treatments.append(f"{key},P{key},C01,11,{quarter}")
            canals.append(f"{key},C,23.0")
            methods = ["electronic", "film_file", "paper_point"]
            kept = 3 if number < 3 else 2 if number < 9 else 1
            readings += [f"{key},C,{method},23.0" for method in methods[:kept]]
    return {
        "treatments": "\n".join(treatments), "canals": "\n".join(canals),
        "readings": "\n".join(readings),
    }  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> AuditFolder:
    made = folder_with(tmp_path_factory.mktemp("criteria") / "audit", **_exports())
    run.ingest_files(made, [], {})
    return made


def _analysed(folder: AuditFolder, *rules: dict[str, object], more: str = "") -> RunData:
    (folder.root / "criteria.toml").write_text(_toml(*rules), encoding="utf-8")
    (folder.root / "settings.toml").write_text(
        f'practice_name = "Test practice"\n{more}', encoding="utf-8"
    )
    return load_run(folder.database, run.analyse_period(folder, None))


def _plain(markdown: str) -> str:
    return markdown.replace("\u00a0", " ").replace("\\", "")


def _share(found: RunData, quarter: str = "2026-Q1", **where: str) -> tuple[int, int, float]:
    row = found.one(
        section="criteria", subject="own_rule", measure="share", period=quarter, **where
    )
    assert row is not None
    return int(row["numerator"]), int(row["denominator"]), float(row["target"])


def test_an_edited_rule_and_target_change_result_and_report(folder: AuditFolder) -> None:
    before = _analysed(folder, RULE)
    assert _share(before) == (9, 12, 0.5)
    assert "9 of 12" in _plain(criteria_results(before))
    edited = RULE | {"numerator": "methods >= 3", "target": 0.9, "statement": "Three methods"}
    after = _analysed(folder, edited)
    assert _share(after) == (3, 12, 0.9)
    shown = _plain(criteria_results(after))
    assert "3 of 12" in shown
    assert "Three methods" in shown
    assert "Three methods" in criteria_statements(after)


def test_an_exception_is_taken_out_and_counted(folder: AuditFolder) -> None:
    found = _analysed(folder, RULE | {"exception": "methods = 1"})
    row = found.one(section="criteria", subject="own_rule", measure="exceptions")
    assert _share(found)[:2] == (9, 9)
    assert row is not None
    assert row["estimate"] == 3


def test_each_quarter_is_judged_by_the_version_of_its_time(folder: AuditFolder) -> None:
    later = RULE | {
        "version": 2, "valid_from": "2026-Q1", "numerator": "methods >= 3", "target": 0.8,
    }  # fmt: skip
    found = _analysed(folder, RULE, later)
    assert _share(found) == (3, 12, 0.8)
    old = {"stratum_kind": "quarter", "stratum": "2025-Q4"}
    assert _share(found, "2025-Q4", **old) == (9, 12, 0.5)
    (held,) = found.setting("criteria")
    assert held["version"] == 2


def test_a_criterion_that_is_not_yet_valid_says_from_when(folder: AuditFolder) -> None:
    found = _analysed(folder, RULE, RULE | {"id": "coming", "valid_from": "2026-Q3"})
    row = found.one(section="criteria", subject="coming", measure="share")
    assert row is not None
    assert (row["valid"], row["reason"]) == (False, "valid from 2026-Q3, not before")
    assert found.select(subject="coming", section="process").empty
    assert "valid from 2026-Q3, not before" in _plain(criteria_results(found))


def test_no_rule_is_applied_to_the_quarters_before_it() -> None:
    first, second = RULE, RULE | {"version": 2, "valid_from": "2026-Q1"}
    assert in_force((first, second), "2024-Q4") == ()
    assert in_force((second, first), "2025-Q4") == (first,)
    assert in_force((second, first), "2026-Q2") == (second,)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        (
            {"numerator": "methods >= 'many'"},
            "numerator, .* cannot be evaluated on canal_conduct",
        ),
        ({"numerator": "no_such_column"}, "numerator, .* cannot be evaluated on canal_conduct"),
        ({"denominator": "methods >= 2 or"}, ".*cannot be evaluated on canal_conduct"),
        ({"numerator": "methods"}, "numerator must be a condition that is true or false"),
        ({"exception": "canal"}, "exception must be a condition that is true or false"),
        ({"numerator": "true; drop table x"}, "numerator must be one condition"),
        ({"table": "record.treatments"}, "table must be one of"),
        ({"target": 85}, "target must lie between 0 and 1"),
        ({"direction": "more"}, "direction must be at_least or at_most"),
        ({"valid_from": "2026"}, "valid_from is a quarter written like 2026-Q3"),
        ({"window": "year"}, "window must be one of quarter, all"),
        ({"numeratr": "true"}, "unknown entry numeratr"),
    ],
)
def test_an_impossible_rule_is_an_error_with_its_id(
    changed: dict[str, object], words: str
) -> None:
    connection = duckdb.connect()
    connection.execute("create schema marts")
    connection.execute(
        "create table marts.canal_conduct as select 'T1' as treatment_id, 'C' as canal, "
        "'P1' as patient_id, 'C01' as clinician_id, 'S1' as site_id, '2026-Q1' as quarter, "
        "null as month, 2 as methods"
    )
    with pytest.raises(SettingsError, match=f"criteria.toml, own_rule: {words}"):
        _followed(connection, RULE | changed)


def _followed(connection: duckdb.DuckDBPyConnection, item: dict[str, object]) -> None:
    checked_criteria(Settings(criteria=(item,)))
    criterion_cases(connection, item)


def test_command_answers_an_impossible_rule_with_its_id_and_no_trace(
    folder: AuditFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    broken = RULE | {"numerator": "no_such_column >= 3"}
    (folder.root / "criteria.toml").write_text(_toml(broken), encoding="utf-8")
    assert main(["--quiet", "analyse", "--folder", str(folder.root)]) == 3
    said = capsys.readouterr().err
    assert "criteria.toml, own_rule: " in said
    assert "Traceback" not in said


def test_without_targets_actions_or_date_it_is_no_audit(folder: AuditFolder) -> None:
    wanted = 'purpose = "audit"\n'
    bare = _analysed(folder, RULE, more=wanted)
    assert "Service evaluation" in opening(bare)
    assert "This audit" not in purpose(bare)
    (folder.root / "actions.toml").write_text(
        '[[action]]\ngap = "g"\naction = "a"\nowner_role = "lead"\ndue = "2026-Q2"\n'
        'measure = "m"\nstatus = "open"\n',
        encoding="utf-8",
    )
    assert "Service evaluation" in opening(_analysed(folder, RULE, more=wanted))
    whole = _analysed(folder, RULE, more=wanted + 're_audit_date = "2026-Q4"\n')
    assert "This audit" in purpose(whole)
    assert "Service evaluation" not in opening(whole)
    none = _analysed(folder, more=wanted + 're_audit_date = "2026-Q4"\n')
    assert "Service evaluation" in opening(none)
    (folder.root / "actions.toml").unlink()


def test_research_needs_its_approval_and_prints_it(folder: AuditFolder) -> None:
    with pytest.raises(SettingsError, match="approval_reference"):
        _analysed(folder, RULE, more='purpose = "research"\n')
    found = _analysed(
        folder, RULE, more='purpose = "research"\napproval_reference = "REC 12/345"\n'
    )
    assert "REC 12/345" in opening(found).replace("\\", "")
