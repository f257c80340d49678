"""Files that cannot be read give a clear error without a row's value; the database stays."""

import pytest

from folders import SMALL, folder_with, small_folder
from lengthwise.errors import LengthwiseError, SettingsError, UnreadableError
from lengthwise.intake import check_files, ingest_files
from lengthwise.store.database import connect

READINGS = SMALL["readings"]


def codes(result):
    return sorted(result.findings["code"])


@pytest.mark.parametrize(
    ("text", "says"),
    [
        pytest.param(b"", "empty", id="empty file"),
        pytest.param("treatment_id,canal,method,length_mm,secretword\nT1,MB,film,20,x\n", "number 5", id="unknown column"),
        pytest.param("treatment_id,canal,method\nT1,MB,film\n", "length_mm is missing", id="missing required column"),
        pytest.param(READINGS.replace(",", ";"), "separated by ;", id="wrong separator"),
        pytest.param(b"\x00\x01\x02\x03" * 300, "binary", id="binary file"),
        pytest.param(READINGS.replace("length_mm", "canal"), "more than once", id="duplicate header"),
        pytest.param("T1,MB,film,20.5\nT1,P,film,21.5\n", "header line missing", id="no header"),
        pytest.param(READINGS.encode().replace(b"film", b"f\xe9lm"), "encoding", id="not UTF-8"),
    ],
)  # fmt: skip
def test_unreadable_file_is_a_clear_error(tmp_path, text, says):
    folder = small_folder(tmp_path / "audit", readings=text)
    with pytest.raises(UnreadableError, match=says) as caught:
        check_files(folder, [], {})
    message = str(caught.value)
    assert message.startswith("readings.csv")
    for value in ("20.5", "T1", "secretword", "MB"):
        assert value not in message


def test_missing_file_is_named(tmp_path):
    folder = small_folder(tmp_path / "audit")
    with pytest.raises(UnreadableError, match=r"readings-2\.csv: the file is not there"):
        check_files(folder, [folder.exports / "readings-2.csv"], {})


def test_file_of_unknown_export_is_named(tmp_path):
    folder = small_folder(tmp_path / "audit", notes="a,b\n1,2\n")
    with pytest.raises(UnreadableError, match="cannot tell which export"):
        check_files(folder, [], {})


def test_header_only_file_has_no_rows_and_no_findings(tmp_path):
    folder = small_folder(tmp_path / "audit", readings="treatment_id,canal,method,length_mm\n")
    result = check_files(folder, [], {})
    assert [item.rows_read for item in result.judged if item.source.export == "readings"] == [0]
    assert result.findings.empty


@pytest.mark.parametrize(
    ("row", "code"),
    [
        pytest.param("T1,MB,film,20.5,9", "reading.too_many_fields", id="too many fields"),
        pytest.param("T1,MB,film", "reading.too_few_fields", id="too few fields"),
        pytest.param(
            'T1,MB,film,"20.5\nT2,C,film,23', "reading.unclosed_quote", id="open quote"
        ),
        pytest.param(
            "T1,MB,fi\x07lm,20.5", "reading.control_character", id="control character"
        ),
        pytest.param(
            "T1,MB,film," + "9" * 10_000_000, "reading.field_too_long", id="10 MB field"
        ),
        pytest.param("T1,MB,film,215", "reading.length_out_of_range", id="decimal slip"),
        pytest.param("T1,MB,film,nan", "reading.length_not_a_number", id="nan"),
        pytest.param("T1,MB,film,inf", "reading.length_not_a_number", id="infinity"),
        pytest.param("T1,MB,film,'20,5", "reading.too_many_fields", id="decimal comma"),
        pytest.param("T9,MB,film,20.5", "reading.canal_unknown", id="orphan"),
        pytest.param("T1,MB,film,", "reading.length_missing", id="missing value"),
    ],
)
def test_bad_row_is_set_aside_with_its_code(tmp_path, row, code):
    folder = small_folder(tmp_path / "audit", readings=READINGS + row + "\n")
    result = ingest_files(folder, [], {})
    assert codes(result) == [code]
    assert result.findings["row_number"].tolist() == [4]
    assert result.rows_quarantined == 1
    (path,) = result.quarantine_files
    assert code in path.read_text(encoding="utf-8")


def test_other_tooth_notation_is_a_finding(tmp_path):
    text = SMALL["treatments"].replace(",16,", ",3,")
    result = check_files(small_folder(tmp_path / "audit", treatments=text), [], {})
    assert "treatment.tooth_not_allowed" in codes(result)


def test_review_before_treatment_is_a_finding(tmp_path):
    follow_ups = "treatment_id,days_from_treatment\nT1,-3\nT2,400\n"
    result = check_files(small_folder(tmp_path / "audit", follow_ups=follow_ups), [], {})
    assert codes(result) == ["follow_up.before_treatment"]


def test_dates_become_period_and_days_and_are_dropped(tmp_path):
    treatments = (
        "treatment_id,patient_id,clinician_id,tooth,treatment_date\nT1,P1,C01,16,2026-01-10\n"
    )
    folder = folder_with(
        tmp_path / "audit", treatments=treatments,
        follow_ups="treatment_id,review_date\nT1,2027-01-20\n",
    )  # fmt: skip
    assert ingest_files(folder, [], {}).findings.empty
    connection = connect(folder.database, read_only=True)
    assert connection.execute("select period from record.treatments").fetchall() == [
        ("2026-01",)
    ]
    assert connection.execute(
        "select days_from_treatment from record.follow_ups"
    ).fetchall() == [(375,)]
    columns = connection.execute(
        "select column_name from information_schema.columns"
    ).fetchall()
    assert not {name for (name,) in columns if name in ("treatment_date", "review_date")}


@pytest.mark.parametrize(
    ("order", "written"),
    [
        ("ymd", "2026-02-09"), ("ymd", "2026/02/09"), ("dmy", "09.02.2026"), ("dmy", "9/2/2026"),
        ("dmy", "09-02-2026"), ("dmy", "2026-02-09"), ("mdy", "02/09/2026"), ("mdy", "2-9-2026"),
    ],
)  # fmt: skip
def test_dates_are_read_in_the_declared_order(tmp_path, order, written):
    text = (
        f"treatment_id,patient_id,clinician_id,tooth,treatment_date\nT1,P1,C01,16,{written}\n"
    )
    folder = folder_with(tmp_path / "audit", treatments=text)
    assert ingest_files(folder, [], {"date_order": order}).findings.empty
    connection = connect(folder.database, read_only=True)
    assert connection.execute("select period from record.treatments").fetchall() == [
        ("2026-02",)
    ]


def test_a_date_in_another_order_is_a_finding(tmp_path):
    text = (
        "treatment_id,patient_id,clinician_id,tooth,treatment_date\nT1,P1,C01,16,31/01/2026\n"
    )
    folder = folder_with(tmp_path / "audit", treatments=text)
    found = check_files(folder, [], {"date_order": "mdy"}).findings
    assert "treatment.treatment_date_not_a_date" in found["code"].tolist()


def test_two_files_with_the_same_key_and_other_values_conflict(tmp_path):
    folder = small_folder(tmp_path / "audit")
    other = folder.exports / "readings-2.csv"
    other.write_text(
        "treatment_id,canal,method,length_mm\nT1,MB,electronic,22.0\n", encoding="utf-8"
    )
    result = ingest_files(folder, [], {})
    assert codes(result) == ["reading.key_conflict"] * 2
    assert result.rows_quarantined == 2


def test_failed_load_leaves_the_database_as_it_was(tmp_path, monkeypatch):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    (folder.exports / "canals.csv").write_text(
        "treatment_id,canal,confirmed_length_mm\nT1,MB,19.5\n", encoding="utf-8"
    )
    import lengthwise.store.load as load

    def broken(*_):
        raise load.StoreError("the disk is full")

    monkeypatch.setattr(load, "_store_file", broken)
    with pytest.raises(LengthwiseError):
        ingest_files(folder, [], {})
    connection = connect(folder.database, read_only=True)
    query = (
        "select confirmed_length_mm from record.canals where superseded_by is null order by 1"
    )
    assert connection.execute(query).fetchall() == [(20.5,), (21.0,), (23.5,)]
    assert connection.execute("select count(*) from record.loads").fetchall() == [(1,)]


def test_settings_error_names_file_and_setting(tmp_path):
    folder = small_folder(tmp_path / "audit")
    (folder.root / "settings.toml").write_text("purpos = 'audit'\n", encoding="utf-8")
    with pytest.raises(SettingsError, match=r"settings\.toml: unknown setting purpos"):
        check_files(folder, [], {})
