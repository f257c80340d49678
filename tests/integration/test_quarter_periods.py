"""A practice that knows quarters only, not months, gets its whole analysis all the same."""

import csv

import pandas as pd

from lengthwise.analyse.actions import analyse_actions
from lengthwise.analyse.measures import Measure, in_order_of_keys
from lengthwise.analyse.rows import ResultRows
from lengthwise.report.run_data import load_run
from lengthwise.run import analyse_period, demo_folder, ingest_files
from lengthwise.settings import Settings


def test_treatments_by_quarter_are_analysed_without_months(tmp_path):
    folder = demo_folder(tmp_path / "audit")
    path = folder.exports / "treatments.csv"
    with path.open(encoding="utf-8-sig", newline="") as handle:
        rows = [row for row in csv.DictReader(handle) if None not in row.values()]
    for row in rows:
        row.pop(None, None)
        year, _, month = row["period"].partition("-")
        if month.isdigit():
            row["period"] = f"{year}-Q{(int(month) - 1) // 3 + 1}"
    with path.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.DictWriter(handle, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    ingest_files(folder, [], {})
    run = load_run(folder.database, analyse_period(folder, "2026-Q2"))
    biases = run.estimates[run.estimates["measure"] == "bias"]
    assert biases["valid"].any()
    assert not (run.points["figure"] == "bias_by_month").any()
    changes = run.estimates[run.estimates["measure"] == "share_change"]
    actions = changes[changes["section"] == "actions"]
    assert len(actions)
    assert not actions["valid"].any()


def coded_cases() -> pd.DataFrame:
    keys = pd.CategoricalDtype(["T9", "T1"])
    return pd.DataFrame(
        {
            "patient_id": [0, 1],
            "clinician_id": ["C01", "C01"],
            "treatment_id": pd.Categorical(["T9", "T1"], dtype=keys),
            "month": pd.Categorical(["2026-01", "2026-01"], ordered=True),
            "is_met": [True, False],
        }
    )


def test_cases_of_a_month_stand_in_the_order_of_their_keys_as_written():
    assert in_order_of_keys(coded_cases())["treatment_id"].tolist() == ["T1", "T9"]


def test_an_action_in_a_month_without_cases_is_compared():
    words = dict.fromkeys(("gap", "action", "owner_role", "due", "measure"), "own")
    action = words | {"status": "done", "from_month": "2026-03", "criterion": "fill_short"}
    measure = Measure("fill_short", coded_cases(), 0.9, True)
    rows = ResultRows()
    analyse_actions(rows, [measure], Settings(actions=(action,)))
    before = [row for row in rows.estimates if row["measure"] == "share_before"]
    assert [row["denominator"] for row in before] == [2]
