"""A clinician's stored rows hold nothing of another's: unique values planted, then searched for."""

import pandas as pd
import pytest

from folders import folder_with
from lengthwise import run
from lengthwise.folder import AuditFolder
from lengthwise.report.run_data import RunData, load_run
from lengthwise.resources import resource

CRITERIA = resource("pipeline", "lengthwise", "templates", "criteria.toml")
CLINICIANS, TEETH = 6, 40
OTHER = "C02"
# Values that no other row of the practice has.
LENGTH, OFFSET, TREATMENT = 27.43, 3.37, "T-UNIQUE-9"
# What the case-mix model of the whole practice enters; it is a summary of all its cases.
OF_ALL = {"expected", "observed_expected", "shrunken_odds_ratio", "reliability", "own_change"}


def _exports(planted: bool) -> dict[str, str]:
    treatments = ["treatment_id,patient_id,clinician_id,tooth,period,treatment_type,preop_pai"]
    canals = ["treatment_id,canal,confirmed_length_mm,apical_size_iso"]
    readings = ["treatment_id,canal,method,stage,replicate,length_mm,canal_state,file_size_iso"]
    fills = ["treatment_id,canal,fill_offset_mm,core_beyond,film_quality,reader_id,read"]
    for place in range(CLINICIANS):
        for number in range(TEETH):
            key, who = f"T{place}-{number:02d}", f"C{place + 1:02d}"
            is_other = planted and who == OTHER and number == 7
            key = TREATMENT if is_other else key
            month = 4 + number % 3 if number % 2 else 1 + number % 3
            pai = 1 + number % 5
            treatments.append(f"{key},P{key},{who},11,2026-{month:02d},primary,{pai}")
            canals.append(f"{key},C,23.0,30")
            length = LENGTH if is_other else 23.0 + 0.1 * (number % 5)
            state = "wet" if number % 4 == 0 else "dry"
            readings.append(f"{key},C,electronic,initial,1,{length},{state},20")
            readings.append(f"{key},C,film_file,initial,1,23.5,,20")
            offset = OFFSET if is_other else -0.2 * (number % 13) + 0.3
            fills.append(f"{key},C,{offset:.2f},no,A,R1,1")
    return {
        "treatments": "\n".join(treatments), "canals": "\n".join(canals),
        "readings": "\n".join(readings), "fills": "\n".join(fills),
    }  # fmt: skip


def _analysed(folder: AuditFolder) -> RunData:
    (folder.root / "criteria.toml").write_text(
        CRITERIA.read_text(encoding="utf-8"), encoding="utf-8"
    )
    with (folder.root / "settings.toml").open("a", encoding="utf-8") as handle:
        handle.write("[private_cusum]\nis_wanted = true\nrun_length = 100\n")
    run.ingest_files(folder, [], {})
    return load_run(folder.database, run.analyse_period(folder, "2026-Q2"))


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> dict[bool, RunData]:
    base = tmp_path_factory.mktemp("private")
    return {
        planted: _analysed(folder_with(base / str(planted), **_exports(planted)))
        for planted in (False, True)
    }


def _own(found: RunData, clinician: str) -> pd.DataFrame:
    rows = found.estimates
    return rows[rows["scope"] == f"clinician:{clinician}"].reset_index(drop=True)


def test_planted_values_are_in_the_run_and_in_nobody_elses_scope(
    runs: dict[bool, RunData],
) -> None:
    listed = runs[True].lists
    assert TREATMENT in set(listed["treatment_id"])
    assert set(listed.loc[listed["treatment_id"] == TREATMENT, "clinician_id"]) == {OTHER}
    rows = runs[True].estimates
    others = rows[rows["scope"].str.startswith("clinician:")]
    others = others[others["scope"] != f"clinician:{OTHER}"]
    assert others["scope"].nunique() == CLINICIANS - 1
    said = others.to_csv(index=False)
    for planted in (TREATMENT, str(LENGTH), str(OFFSET), f"{LENGTH - 23.5:.2f}", OTHER):
        assert planted not in said


def test_own_rows_are_the_same_whatever_another_does(runs: dict[bool, RunData]) -> None:
    for number in (1, 3, 6):
        before, after = (_own(runs[planted], f"C{number:02d}") for planted in (False, True))
        private = ~before["measure"].isin(OF_ALL) & ~before["analysis"].eq("B6")
        assert list(before["result_id"]) == list(after["result_id"])
        columns = [name for name in before if name not in ("run_id", "position")]
        pd.testing.assert_frame_equal(
            before.loc[private, columns], after.loc[private, columns], check_exact=True
        )
        assert private.sum() > 30


def test_peers_carry_no_code_no_key_and_no_number_of_cases(runs: dict[bool, RunData]) -> None:
    points = runs[True].points
    peers = points[points["figure"] == "peers"]
    assert len(peers) > 0
    assert set(peers["label"]) == {""}
    assert peers["n"].isna().all()
    assert set(peers["panel"].value_counts()) == {CLINICIANS}
    assert not points["figure"].str.contains("cusum").any()


def test_private_scores_stay_in_the_own_scope(runs: dict[bool, RunData]) -> None:
    rows = runs[True].estimates
    scores = rows[rows["analysis"] == "B6"]
    assert set(scores["scope"]) == {
        f"clinician:C{number + 1:02d}" for number in range(CLINICIANS)
    }
    assert {"cusum_threshold", "cusum_score", "cusum_signal"} == set(scores["measure"])
