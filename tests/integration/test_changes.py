"""A corrected file says what it changed, field by field, and what it left out."""

import pytest

from folders import SMALL, small_folder
from lengthwise.cli import main
from lengthwise.intake import ingest_files
from lengthwise.store.database import connect

READINGS = (
    "treatment_id,canal,method,length_mm,canal_state,observer_id\n"
    "T1,MB,electronic,20.5,dry,A1\nT1,P,electronic,21.2,dry,A1\nT2,C,electronic,24.0,dry,A1\n"
    "T2,C,film,24.5,,A1\nT1,MB,film,21.0,,A1\n"
)


@pytest.fixture
def folder(tmp_path):
    made = small_folder(tmp_path / "audit", readings=READINGS)
    ingest_files(made, [], {})
    return made


def load_again(folder, text, name="readings.csv"):
    path = folder.exports / name
    path.write_text(text, encoding="utf-8")
    (outcome,) = ingest_files(folder, [path], {}).load.files
    return outcome


def test_changes_are_counted_by_field_printed_and_kept(folder, capsys):
    text = READINGS.replace("20.5,dry", "20.7,wet").replace("21.2,dry", "21.2,wet")
    outcome = load_again(folder, text + "T1,P,film,21.5,,A1\n")
    assert outcome.changed_fields == {"length_mm": 1, "canal_state": 2}
    assert (outcome.added, outcome.superseding, outcome.unchanged, outcome.absent) == (
        1,
        2,
        3,
        0,
    )
    assert main(["loads", "--folder", str(folder.root)]) == 0
    said = capsys.readouterr().out
    words = (
        "corrects earlier rows: 1 added, 2 changed (canal_state in 2, length_mm in 1), 3 unch"
    )
    assert words in said
    assert "are not in this one" not in said


def test_ingest_prints_what_a_corrected_file_changed_and_left_out(folder, capsys):
    short = "\n".join(READINGS.replace("24.5", "24.4").splitlines()[:5]) + "\n"
    (folder.exports / "readings.csv").write_text(short, encoding="utf-8")
    assert main(["--quiet", "ingest", "--folder", str(folder.root)]) == 0
    said = capsys.readouterr().out
    assert (
        "readings.csv: corrects earlier rows: 0 added, 1 changed (length_mm in 1), 3 unch"
        in said
    )
    assert "readings.csv: 1 rows of the earlier file are not in this one; they stay" in said
    assert main(["loads", "--folder", str(folder.root)]) == 0
    assert "1 rows of the earlier file are not in this one" in capsys.readouterr().out
    connection = connect(folder.database, read_only=True)
    kept = (
        "select count(*) from record.readings where superseded_by is null and method = 'film'"
    )
    assert connection.execute(kept).fetchall() == [(2,)]
    connection.close()


def test_an_old_file_again_says_which_load_corrected_it(folder, capsys):
    path = folder.exports / "readings.csv"
    root = str(folder.root)
    path.write_text(READINGS.replace("24.5", "24.4"), encoding="utf-8")
    ingest_files(folder, [], {})
    path.write_text(READINGS, encoding="utf-8")
    assert main(["--quiet", "ingest", "--folder", root]) == 0
    said = capsys.readouterr().out
    assert (
        "readings.csv: already loaded, nothing changed; load 2 corrected rows of it, lengthwise "
        "undo 2 brings them back" in said
    )
    assert "canals.csv: already loaded, nothing changed\n" in said
    assert main(["undo", "2", "--folder", root]) == 0
    connection = connect(folder.database, read_only=True)
    film = "select length_mm from record.readings where method = 'film' order by 1"
    assert connection.execute(film).fetchall() == [(21.0,), (24.5,)]
    connection.close()


def test_a_row_that_was_set_aside_is_not_counted_as_left_out(folder):
    outcome = load_again(folder, READINGS.replace("24.5", "245"))
    assert (outcome.absent, outcome.judged.rows_quarantined) == (0, 1)


def test_a_file_under_another_name_corrects_where_it_repeats_half_the_rows(folder):
    head, *lines = READINGS.splitlines()
    most = "\n".join([head, *lines[:3]]) + "\n"
    assert load_again(folder, most, "readings-new.csv").absent == 2


def test_a_short_list_of_corrections_under_another_name_leaves_nothing_out(folder):
    fix = "treatment_id,canal,method,length_mm,observer_id\nT2,C,film,24.3,A1\n"
    outcome = load_again(folder, fix, "readings-fix.csv")
    assert (outcome.superseding, outcome.absent) == (1, 0)


def test_new_rows_under_the_old_name_correct_nothing(folder):
    new = READINGS.splitlines()[0] + "\nT1,MB,cbct,20.9,,A1\n"
    outcome = load_again(folder, new)
    assert (outcome.added, outcome.absent, outcome.changed_fields) == (1, 0, {})


def test_the_rows_left_out_of_two_files_that_share_an_earlier_one_are_found_in_either(folder):
    head, *lines = READINGS.splitlines()
    for name, own in (("readings.csv", lines[:2]), ("readings-2.csv", lines[2:4])):
        (folder.exports / name).write_text("\n".join([head, *own]) + "\n", encoding="utf-8")
    files = {item.judged.source.name: item for item in ingest_files(folder, [], {}).load.files}
    assert files["readings.csv"].absent == 1


def test_a_corrected_incident_is_a_new_row_and_the_old_one_is_reported(tmp_path):
    text = "treatment_id,kind,days_from_treatment\nT1,other,3\nT2,perforation,0\n"
    made = small_folder(tmp_path / "audit", incidents=text)
    ingest_files(made, [], {})
    outcome = load_again(made, text.replace("T1,other,3", "T1,other,4"), "incidents.csv")
    assert (outcome.added, outcome.unchanged, outcome.absent) == (1, 1, 1)


@pytest.mark.parametrize(
    ("table", "text", "regime"),
    [
        ("treatments", SMALL["treatments"], "month of treatment, as given"),
        ("treatments", SMALL["treatments"].replace("2026-02", "2026-Q1"), "quarter or month of treatment, as given"),
        ("treatments", SMALL["treatments"].replace("period", "treatment_date").replace("2026-01", "2026-01-09").replace("2026-02", "2026-02-11"), "treatment_date became the month of treatment and is dropped"),
        ("follow_ups", "treatment_id,days_from_treatment\nT1,400\n", "days from treatment, as given"),
    ],
)  # fmt: skip
def test_what_is_kept_of_dates_is_printed_and_stored(tmp_path, capsys, table, text, regime):
    made = small_folder(tmp_path / "audit", **{table: text})
    root = str(made.root)
    for command in ("check", "ingest"):
        assert main(["--quiet", command, "--folder", root]) == 0
        said = capsys.readouterr().out
        assert f"{table}.csv: {regime}\n" in said
        assert "finer than the year" in said
    connection = connect(made.database, read_only=True)
    stored = connection.execute(
        "select date_regime from record.load_files where export = $table", {"table": table}
    ).fetchall()
    connection.close()
    assert stored == [(regime,)]
    assert main(["loads", "--folder", root]) == 0
    assert regime in capsys.readouterr().out
