"""Three practices' own sheets load to the tables of the same records in tidy form."""

import datetime
import json

import pytest
from openpyxl import Workbook

from folders import folder_with, stored_records
from lengthwise.errors import SettingsError, UnreadableError
from lengthwise.ingest.mapping import load_mapping
from lengthwise.ingest.reshape import iso_tooth
from lengthwise.intake import check_files, ingest_files
from lengthwise.store.database import connect
from own_sheets import SHAPES, TIDY


def own_sheet(path, name, content, mapping):
    folder = folder_with(path)
    (folder.exports / name).write_bytes(content)
    folder.mapping.write_text(mapping, encoding="utf-8")
    return folder


@pytest.mark.parametrize("shape", SHAPES)
def test_own_sheets_load_to_the_tidy_tables(tmp_path, shape):
    tidy = folder_with(tmp_path / "tidy", **TIDY)
    ingest_files(tidy, [], {})
    own = own_sheet(tmp_path / "own", *SHAPES[shape])
    assert ingest_files(own, [], {}).findings.empty
    assert stored_records(own, TIDY) == stored_records(tidy, TIDY)
    assert ingest_files(own, [], {}).load is None


def test_a_sheet_of_a_workbook_is_reshaped_by_its_mapping(tmp_path):
    tidy = folder_with(tmp_path / "tidy", **TIDY)
    ingest_files(tidy, [], {})
    name, content, mapping = SHAPES["wide per canal"]
    folder = folder_with(tmp_path / "own")
    folder.mapping.write_text(
        mapping.replace(f'"{name}"', '"Canals (list.xlsx)"').replace(
            'date_order = "mdy"', "skip_lines = 1"
        ),
        encoding="utf-8",
    )
    book = Workbook()
    sheet = book.active
    sheet.title = "Canals"
    sheet.append(["Our list"])
    for line in content.decode().splitlines():
        cells = line.split(",")
        if "/" in cells[4]:
            month, day, year = cells[4].split("/")
            cells[4] = datetime.date(int(year), int(month), int(day))
            cells[3], cells[5] = int(cells[3]), int(cells[5])
        sheet.append(cells)
    book.save(folder.exports / "list.xlsx")
    assert ingest_files(folder, [], {}).findings.empty
    assert stored_records(folder, TIDY) == stored_records(tidy, TIDY)


def test_findings_carry_the_row_of_the_users_file(tmp_path):
    name, content, mapping = SHAPES["wide per canal"]
    broken = (
        content.decode()
        .replace(",20.5,20,0.5", ",205,20,0.5")
        .replace("T2,P2,C2,19,", "T2,P2,C2,33,")
    )
    folder = own_sheet(tmp_path / "own", name, broken.encode(), mapping)
    found = check_files(folder, [], {}).findings
    places = {(row.code, row.row_number) for row in found.itertuples()}
    assert ("treatment.tooth_not_allowed", 3) in places
    assert ("reading.length_out_of_range", 4) in places


def test_a_row_of_the_wrong_width_is_set_aside_whole(tmp_path):
    name, content, mapping = SHAPES["long, other language"]
    folder = own_sheet(tmp_path / "own", name, content + b"T3;P3;C1\n", mapping)
    result = check_files(folder, [], {})
    places = {(row.code, row.row_number) for row in result.findings.itertuples()}
    assert places == {("treatment.too_few_fields", 7)}
    assert result.rows_quarantined == 1


def set_aside(folder):
    connection = connect(folder.database, read_only=True)
    try:
        return connection.execute(
            "select row_number, row_values from record.quarantine"
        ).fetchall()
    finally:
        connection.close()


def with_a_cell_too_many(tmp_path, shape):
    name, content, mapping = SHAPES[shape]
    separator = ";" if b";" in content else ","
    wide = content.rstrip(b"\n") + f"\nT3{separator * 25}\n".encode()
    folder = own_sheet(tmp_path / "own", name, wide, mapping)
    result = ingest_files(folder, [], {})
    places = {(row.code, row.row_number) for row in result.findings.itertuples()}
    assert {code for code, _ in places} == {"treatment.too_many_fields"}
    ((_, number),) = places
    return set_aside(folder), number


def test_a_record_with_a_cell_too_many_is_kept_under_names_that_are_no_columns(tmp_path):
    ((row, values),), number = with_a_cell_too_many(tmp_path, "long, other language")
    kept = json.loads(values)
    assert row == number
    assert list(kept.items())[:2] == [("_cell_1", "T3"), ("_cell_2", "")]
    assert len(kept) == 26


@pytest.mark.parametrize("shape", ["wide per canal", "wide per tooth"])
def test_nothing_of_a_shifted_record_is_kept_where_it_could_be_a_date_or_left_out(
    tmp_path, shape
):
    ((row, values),), number = with_a_cell_too_many(tmp_path, shape)
    assert (row, json.loads(values)) == (number, {})


def test_stored_rows_carry_the_row_of_the_users_file(tmp_path):
    name, content, mapping = SHAPES["wide per tooth"]
    folder = own_sheet(tmp_path / "own", name, content, mapping)
    ingest_files(folder, [], {})
    connection = connect(folder.database, read_only=True)
    try:
        found = {
            export: connection.execute(
                f"select treatment_id, row_number from record.{export} group by all order by all"
            ).fetchall()
            for export in ("treatments", "canals", "readings", "fills")
        }
    finally:
        connection.close()
    assert set(map(tuple, found.values())) == {(("T1", 1), ("T2", 2))}


@pytest.mark.parametrize(
    ("old", "new", "error", "message"),
    [
        ('tooth_notation = "universal"', "", SettingsError, "declare tooth_notation"),
        ('"universal"', '"german"', SettingsError, "tooth_notation: expected one of"),
        (
            "confirmed_length_ends_mm = -0.5",
            "",
            SettingsError,
            "needs confirmed_length_ends_mm",
        ),
        (
            'wl = "confirmed_length_mm"',
            'wl = "length"',
            SettingsError,
            "length is no field of that export",
        ),
        ("distinct = true", "unique = true", SettingsError, "table: unknown entry unique"),
        (
            'export = "fills"',
            'export = "filling"',
            SettingsError,
            "table: export must be one of",
        ),
        ('eal = "length_mm"', 'apex = "length_mm"', UnreadableError, "the header lacks apex"),
        (', wl = "confirmed_length_mm"', "", UnreadableError, "column number 10 is used by no"),
    ],
)
def test_a_mapping_that_cannot_be_followed_says_why(tmp_path, old, new, error, message):
    name, content, mapping = SHAPES["wide per canal"]
    assert old in mapping
    folder = own_sheet(tmp_path / "own", name, content, mapping.replace(old, new, 1))
    with pytest.raises(error, match=message):
        check_files(folder, [], {})


# Universal numbering runs 1-32 from the upper right third molar along the upper arch and back
# along the lower one; ISO 3950 names quadrant and position. Common practice, no source.
@pytest.mark.parametrize(
    ("text", "notation", "iso"),
    [
        ("1", "universal", "18"),
        ("8", "universal", "11"),
        ("9", "universal", "21"),
        ("16", "universal", "28"),
        ("17", "universal", "38"),
        ("24", "universal", "31"),
        ("25", "universal", "41"),
        ("32", "universal", "48"),
        ("33", "universal", "?33"),
        ("UR6", "quadrant_position", "16"),
        ("ll 4", "quadrant_position", "34"),
        ("4-7", "quadrant_position", "47"),
        ("46", "quadrant_position", "?46"),
        ("46", "iso3950", "46"),
        ("", "universal", ""),
    ],
)
def test_tooth_notations(text, notation, iso):
    assert iso_tooth(text, notation) == iso


def test_every_universal_number_is_a_different_tooth():
    teeth = {iso_tooth(str(number), "universal") for number in range(1, 33)}
    assert teeth == {f"{quadrant}{place}" for quadrant in range(1, 5) for place in range(1, 9)}


def test_a_plain_entry_needs_no_table(tmp_path):
    path = tmp_path / "mapping.toml"
    path.write_text('[[file]]\nname = "a.csv"\nexport = "fills"\n', encoding="utf-8")
    assert load_mapping(path).files["a.csv"].reshape is None


@pytest.mark.parametrize("text", [",5", "0,50", "+5e-1", "0,5000000000000000277"])
def test_a_number_changes_its_sign_however_it_is_written(tmp_path, text):
    name, content, mapping = SHAPES["wide per tooth"]
    own = content.decode().replace(";0,5;-0,5;", f";{text};-0,5;")
    folder = own_sheet(tmp_path / "own", name, own.encode(), mapping)
    assert ingest_files(folder, [], {}).findings.empty
    assert stored_records(folder, TIDY)["fills"][0][2] == -0.5


@pytest.mark.parametrize("text", ["1_0", "9" * 400, "0.5", "half"])
def test_what_is_no_number_is_found_and_not_passed_on(tmp_path, text):
    name, content, mapping = SHAPES["wide per tooth"]
    own = content.decode().replace(";0,5;-0,5;", f";{text};-0,5;")
    folder = own_sheet(tmp_path / "own", name, own.encode(), mapping)
    assert check_files(folder, [], {}).findings["code"].tolist() == [
        "fill.fill_offset_not_a_number"
    ]


def test_a_level_from_the_confirmed_length_takes_its_zero_from_two_columns(tmp_path):
    name, content, mapping = SHAPES["wide per canal"]
    lines = content.decode().splitlines()
    # The film is half a millimetre longer than the confirmed length; in one row it is not known.
    films = ["film length", "21", "21.5", "", "20.5"]
    text = "\n".join(f"{line},{film}" for line, film in zip(lines, films, strict=True)) + "\n"
    own = mapping.replace(
        "confirmed_length_ends_mm = -0.5",
        'confirmed_length_ends = { confirmed = "wl", radiographic = "film length" }',
    )
    folder = own_sheet(tmp_path / "own", name, text.encode(), own)
    ingest_files(folder, [], {})
    levels = {row[:2]: row[2] for row in stored_records(folder, TIDY)["fills"]}
    assert levels == {
        ("T1", "MB"): -0.5,
        ("T1", "P"): 0.5,
        ("T2", "ML"): None,
        ("T2", "D"): 0.0,
    }
    missing = own_sheet(tmp_path / "missing", name, content, own)
    with pytest.raises(UnreadableError, match="the header lacks film length"):
        check_files(missing, [], {})


def test_levels_in_words_are_recoded(tmp_path):
    name, content, mapping = SHAPES["wide per canal"]
    text = content.decode()
    for old, new in (
        (",0\n", ",kurz\n"),
        (",1\n", ",drüber\n"),
        (",-0.5\n", ",\n"),
        (",0.5\n", ",ok\n"),
    ):
        text = text.replace(old, new)
    own = mapping.replace('"fill vs wl" = "fill_offset_mm" }', '"fill vs wl" = "fill_level" }')
    own += (
        '[file.table.recode.fill_level]\nkurz = "short"\n"drüber" = "beyond"\nok = "within"\n'
    )
    own = (
        own.replace(
            'recode = { canal = { mb = "MB", pal = "P", ml = "ML", d = "D" } }\n[file', "[file"
        )
        + '[file.table.recode.canal]\nmb = "MB"\npal = "P"\nml = "ML"\nd = "D"\n'
    )
    folder = own_sheet(tmp_path / "own", name, text.encode(), own)
    assert ingest_files(folder, [], {}).findings.empty
    connection = connect(folder.database, read_only=True)
    found = connection.execute(
        "select canal, fill_level, fill_offset_mm from record.fills order by treatment_id, canal"
    ).fetchall()
    assert found == [
        ("MB", "short", None),
        ("P", "beyond", None),
        ("D", "within", None),
        ("ML", None, None),
    ]


def test_a_column_for_each_reader_and_each_review_becomes_rows(tmp_path):
    sheet = (
        "case,patient,by,tooth,month,canal,wl,level A,level B,PAI 6m,PAI 12m,days 12m\n"
        "T1,P1,C1,16,2026-01,MB,20,-1,-0.5,3,2,366\nT2,P2,C1,26,2026-02,P,21,0.5,,,1,371\n"
    )
    mapping = """
[[file]]
name = "wide.csv"
tooth_notation = "iso3950"

[[file.table]]
export = "treatments"
columns = { case = "treatment_id", patient = "patient_id", by = "clinician_id", tooth = "tooth", month = "period" }
constants = { site_id = "S1" }

[[file.table]]
export = "canals"
columns = { case = "treatment_id", canal = "canal", wl = "confirmed_length_mm" }

[[file.table]]
export = "fills"
columns = { case = "treatment_id", canal = "canal" }
rows_from = [
  { columns = { "level A" = "fill_offset_mm" }, constants = { reader_id = "A", read = 1 } },
  { columns = { "level B" = "fill_offset_mm" }, constants = { reader_id = "B", read = 1 } },
]

[[file.table]]
export = "follow_ups"
columns = { case = "treatment_id" }
constants = { imaging = "film", tooth_present = "yes" }
rows_from = [
  { columns = { "PAI 6m" = "pai" }, constants = { days_from_treatment = 183 } },
  { columns = { "PAI 12m" = "pai", "days 12m" = "days_from_treatment" } },
]
"""
    folder = own_sheet(tmp_path / "own", "wide.csv", sheet.encode(), mapping)
    assert ingest_files(folder, [], {}).findings.empty
    connection = connect(folder.database, read_only=True)
    fills = "select treatment_id, reader_id, fill_offset_mm from record.fills order by all"
    assert connection.execute(fills).fetchall() == [
        ("T1", "A", -1.0), ("T1", "B", -0.5), ("T2", "A", 0.5)
    ]  # fmt: skip
    reviews = (
        "select treatment_id, days_from_treatment, pai from record.follow_ups order by all"
    )
    assert connection.execute(reviews).fetchall() == [
        ("T1", 183, 3), ("T1", 366, 2), ("T2", 371, 1)
    ]  # fmt: skip
    sites = connection.execute("select distinct site_id from record.treatments").fetchall()
    connection.close()
    assert sites == [("S1",)]
