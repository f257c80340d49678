"""Actions are carried from one quarter's run to the next, and a dropped one is told."""

import pandas as pd
import pytest

from folders import small_folder
from lengthwise import run
from lengthwise.analyse.actions_carried import analyse_carried
from lengthwise.analyse.rows import ResultRows
from lengthwise.folder import AuditFolder
from lengthwise.report.run_data import RunData, load_run
from lengthwise.report.sections.actions import actions
from lengthwise.settings import Settings

ACTION = {
    "gap": "fillings end short", "action": "Reconfirm the length", "owner_role": "lead",
    "due": "2026-Q1", "measure": "m", "status": "open",
}  # fmt: skip


def _carried(earlier: list, now: tuple[dict[str, str], ...], quarter: str = "2026-Q2"):
    rows = ResultRows()
    analyse_carried(rows, earlier, quarter, Settings(actions=now))
    table = pd.DataFrame(rows.estimates)
    return table.set_index(["stratum_kind", "stratum"])["reason"] if len(table) else table


@pytest.mark.parametrize(
    ("earlier", "changed", "words"),
    [
        ([], {}, "new; its date has passed"),
        ([("2026-Q1", [ACTION])], {"due": "2026-Q2"}, "open since 2026-Q1"),
        ([("2025-Q4", [ACTION]), ("2026-Q1", [ACTION])], {}, "open since 2025-Q4; its date has passed"),
        ([("2026-Q1", [ACTION])], {"gap": "Fillings  end short."}, "open since 2026-Q1; its date has passed"),
        ([("2026-Q1", [ACTION])], {"due": "2026-05"}, "open since 2026-Q1"),
        ([("2026-Q1", [ACTION])], {"due": "when ready"}, "open since 2026-Q1"),
        ([("2026-Q1", [ACTION])], {"status": "done"}, ""),
        ([("2026-Q1", [ACTION | {"status": "stopped"}])], {"due": "2026-Q3"}, "new"),
    ],
)  # fmt: skip
def test_since_when_an_action_is_open(
    earlier: list, changed: dict[str, str], words: str
) -> None:
    assert _carried(earlier, (ACTION | changed,))["action", "1"] == words


def test_an_open_action_that_left_the_file_is_told_once() -> None:
    other = ACTION | {"gap": "another gap"}
    found = _carried([("2025-Q4", [other]), ("2026-Q1", [ACTION, other])], (ACTION,))
    dropped = found["dropped_action"]
    assert list(dropped.index) == ["1"]
    assert dropped["1"].startswith(
        "open in 2026-Q1 and no longer in actions.toml: another gap;"
    )


def _two_quarters(folder: AuditFolder, first: str, second: str) -> RunData:
    for quarter, text in (("2026-Q1", first), ("2026-Q2", second)):
        (folder.root / "actions.toml").write_text(text, encoding="utf-8")
        run.analyse_period(folder, quarter)
    return load_run(folder.database)


def test_report_of_the_next_quarter_shows_what_was_open(tmp_path) -> None:
    treatments = (
        "treatment_id,patient_id,clinician_id,tooth,period\nT1,P1,C01,16,2026-01\n"
        "T2,P2,C02,11,2026-05\n"
    )
    folder = small_folder(tmp_path / "audit", treatments=treatments)
    run.ingest_files(folder, [], {})
    entry = "[[action]]\n" + "".join(f'{name} = "{value}"\n' for name, value in ACTION.items())
    kept = _two_quarters(folder, entry, entry)
    assert "open since 2026-Q1; its date has passed" in actions(kept).replace("\\", "")
    dropped = _two_quarters(folder, entry, "")
    shown = actions(dropped).replace("\\", "")
    assert "Open in 2026-Q1 and no longer in actions.toml: fillings end short" in shown
    assert "No actions are recorded for this run." in shown
