"""Loads are idempotent, corrections supersede with history, and every declared form reads alike."""

import codecs

import pytest

from folders import SMALL, folder_with, small_folder
from lengthwise.intake import ingest_files
from lengthwise.store.database import connect


def rows(folder, statement):
    connection = connect(folder.database, read_only=True)
    try:
        return connection.execute(statement).fetchall()
    finally:
        connection.close()


def test_second_load_of_the_same_files_changes_nothing(tmp_path):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    again = ingest_files(folder, [], {})
    assert again.load is None
    assert set(again.unchanged_files) == {"treatments.csv", "canals.csv", "readings.csv"}
    assert rows(folder, "select count(*) from record.readings") == [(3,)]


def test_corrected_file_supersedes_with_history(tmp_path):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    path = folder.exports / "readings.csv"
    path.write_text(SMALL["readings"].replace("24.0", "23.0"), encoding="utf-8")
    result = ingest_files(folder, [], {})
    (outcome,) = result.load.files
    assert (outcome.unchanged, outcome.superseding) == (2, 1)
    history = rows(
        folder,
        "select length_mm, load_id, superseded_by from record.readings where method = 'film' order by load_id",
    )
    assert history == [(24.0, 1, 2), (23.0, 2, None)]


def test_mended_quarantine_file_loads(tmp_path):
    folder = small_folder(tmp_path / "audit", readings=SMALL["readings"] + "T1,P,film,215\n")
    (path,) = ingest_files(folder, [], {}).quarantine_files
    mended = path.read_text(encoding="utf-8").replace("215", "21.5")
    target = folder.exports / "readings-mended.csv"
    target.write_text(mended, encoding="utf-8")
    result = ingest_files(folder, [target], {})
    assert result.findings.empty
    assert rows(
        folder,
        "select length_mm from record.readings where treatment_id = 'T1' and canal = 'P' and method = 'film'",
    ) == [(21.5,)]


MAPPED = """
[defaults]
separator = ";"
decimal = ","

[[file]]
name = "Laengen.csv"
export = "readings"
encoding = "windows-1252"
columns = { "Fall" = "treatment_id", "Kanal" = "canal", "Art" = "method", "L\u00e4nge" = "length_mm" }
ignore = ["Memo"]
"""
OWN_READINGS = (
    "Fall;Kanal;Art;L\u00e4nge;Memo\nT1;MB;electronic;20,5;\nT1;P;film;215;\nT2;C;film;24.0;\n"
)


@pytest.mark.parametrize(
    "saved",
    [
        pytest.param(lambda text: text.encode(), id="as written"),
        pytest.param(lambda text: codecs.BOM_UTF8 + text.replace("\n", "\r\n").encode(), id="with mark"),
        pytest.param(lambda text: text.replace(",", ";").replace('"20;5"', "20,5").replace('"21;5"', "21,5").encode(), id="semicolons"),
    ],
)  # fmt: skip
def test_rows_of_a_mapped_file_are_mended_in_the_words_of_the_dictionary(tmp_path, saved):
    tables = {name: as_semicolons(SMALL[name]) for name in ("treatments", "canals")}
    folder = folder_with(tmp_path / "audit", **tables)
    folder.mapping.write_text(MAPPED, encoding="utf-8")
    (folder.exports / "Laengen.csv").write_bytes(OWN_READINGS.encode("cp1252"))
    result = ingest_files(folder, [], {})
    assert sorted(result.findings["code"]) == [
        "reading.length_not_a_number", "reading.length_out_of_range",
    ]  # fmt: skip
    (path,) = result.quarantine_files
    text = path.read_text(encoding="utf-8")
    head = text.splitlines()[0]
    assert head == "_file,_row,_codes,_decimal_comma,treatment_id,canal,method,length_mm"
    target = folder.exports / path.name
    target.write_bytes(saved(text.replace("215", '"21,5"')))
    again = ingest_files(folder, [target], {})
    assert again.findings["code"].tolist() == ["reading.length_not_a_number"]
    assert rows(folder, "select length_mm from record.readings order by 1") == [
        (20.5,),
        (21.5,),
    ]


def test_days_of_rows_to_mend_keep_their_order(tmp_path):
    treatments = SMALL["treatments"].replace("period", "treatment_date")
    treatments = treatments.replace("2026-01", "09.01.2026").replace("2026-02", "11.02.2026")
    folder = folder_with(tmp_path / "audit", treatments=treatments.replace(",11,", ",19,"))
    (path,) = ingest_files(folder, [], {"date_order": "dmy"}).quarantine_files
    assert "_dates_dmy" in path.read_text(encoding="utf-8").splitlines()[0]
    target = folder.exports / "treatments-mended.csv"
    target.write_text(
        path.read_text(encoding="utf-8").replace(",19,", ",12,"), encoding="utf-8"
    )
    assert ingest_files(folder, [target], {}).findings.empty
    assert rows(folder, "select tooth, period from record.treatments order by 1") == [
        ("12", "2026-02"), ("16", "2026-01"),
    ]  # fmt: skip


def as_semicolons(text):
    return text.replace(",", ";").replace(".", ",")


@pytest.mark.parametrize(
    ("convert", "overrides"),
    [
        pytest.param(lambda text: codecs.BOM_UTF8 + text.encode(), {}, id="UTF-8 with mark"),
        pytest.param(lambda text: text.replace("\n", "\r\n").encode(), {}, id="CRLF"),
        pytest.param(lambda text: text.rstrip("\n").encode(), {}, id="no last line end"),
        pytest.param(lambda text: text.replace("\n", "\n\n").encode(), {}, id="blank lines"),
        pytest.param(lambda text: as_semicolons(text).encode(), {"separator": ";", "decimal": ","}, id="semicolons"),
        pytest.param(lambda text: as_semicolons(text).encode("cp1252"), {"separator": ";", "decimal": ",", "encoding": "windows-1252"}, id="Windows-1252"),
        pytest.param(lambda text: text.encode("utf-16"), {"encoding": "utf-16"}, id="UTF-16"),
        pytest.param(lambda text: text.replace(",", "\t").encode(), {"separator": "tab"}, id="tabs"),
        pytest.param(lambda text: ("\n".join(",".join(f'"{cell}"' for cell in line.split(",")) for line in text.splitlines()) + "\n").encode(), {}, id="all quoted"),
    ],
)  # fmt: skip
def test_every_declared_form_loads_alike(tmp_path, convert, overrides):
    plain = small_folder(tmp_path / "plain")
    other = small_folder(
        tmp_path / "other", **{name: convert(text) for name, text in SMALL.items()}
    )
    ingest_files(plain, [], {})
    assert ingest_files(other, [], overrides).findings.empty
    for table in ("treatments", "canals", "readings"):
        statement = f"select * exclude (load_id, file_number) from record.{table} order by all"
        assert rows(other, statement) == rows(plain, statement)


def test_tables_carry_types_limits_and_comments(tmp_path):
    folder = small_folder(tmp_path / "audit")
    ingest_files(folder, [], {})
    comment = rows(
        folder,
        "select comment from duckdb_columns() where table_name = 'readings' and column_name = 'length_mm' and schema_name = 'record'",
    )
    assert comment == [("Length: Length read, from the reference point. [mm]",)]
    kinds = dict(
        rows(
            folder,
            "select column_name, data_type from duckdb_columns() where table_name = 'treatments' and schema_name = 'record'",
        )
    )
    assert kinds["tooth"].startswith("ENUM")
    checks = rows(
        folder,
        "select count(*) from duckdb_constraints() where table_name = 'readings' and constraint_type = 'CHECK'",
    )
    assert checks[0][0] >= 3
