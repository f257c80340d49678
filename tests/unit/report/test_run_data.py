import pandas as pd
import pytest

from lengthwise.errors import ReportError
from lengthwise.report.run_data import find_database, load_run
from lengthwise.report.snapshot import read_snapshot, write_snapshot


def test_select_never_passes_a_stratum_for_the_practice(run_data):
    whole = run_data.select(section="fill", measure="share")
    assert set(whole["stratum_kind"]) == {""}
    strata = run_data.select(section="fill", measure="share", stratum_kind="clinician")
    assert set(strata["stratum_kind"]) == {"clinician"}


def test_select_refuses_a_column_that_is_no_key(run_data):
    with pytest.raises(ValueError, match="key column"):
        run_data.select(estimate="1")


def test_one_is_none_where_nothing_is_stored(run_data):
    assert run_data.one(section="fill", subject="nothing") is None


def test_a_setting_is_found_by_its_path(run_data):
    assert run_data.setting("thresholds", "tolerance_mm") == 0.5
    assert run_data.setting("thresholds", "absent", default=3) == 3


def test_a_snapshot_gives_the_run_back(run_data, tmp_path):
    path = write_snapshot(run_data, tmp_path / "run.json")
    back = load_run(path)
    assert back.run == run_data.run
    for name in ("estimates", "points", "lists", "findings"):
        before, after = getattr(run_data, name), getattr(back, name)
        pd.testing.assert_frame_equal(before, after, check_dtype=False)


def test_an_absent_snapshot_is_named_without_its_folder(tmp_path):
    with pytest.raises(ReportError, match=r"run file gone\.json") as caught:
        read_snapshot(tmp_path / "gone.json")
    assert str(tmp_path) not in str(caught.value)


def test_the_database_is_found_in_a_folder_above(tmp_path, monkeypatch):
    (tmp_path / "inner").mkdir()
    (tmp_path / "audit.duckdb").touch()
    monkeypatch.chdir(tmp_path / "inner")
    assert find_database(tmp_path / "audit.duckdb") == tmp_path / "audit.duckdb"
    from pathlib import Path

    assert find_database(Path("audit.duckdb")) == tmp_path / "audit.duckdb"


def test_an_absent_database_is_a_report_error(tmp_path):
    with pytest.raises(ReportError, match="No database"):
        find_database(tmp_path / "none.duckdb")
