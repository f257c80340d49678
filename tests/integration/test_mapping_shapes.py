"""Three practices' own sheets load to the tables of the same records in tidy form."""

import datetime

import pytest
from openpyxl import Workbook

from folders import folder_with
from lengthwise.errors import SettingsError, UnreadableError
from lengthwise.ingest.mapping import load_mapping
from lengthwise.ingest.reshape import iso_tooth
from lengthwise.intake import check_files, ingest_files
from lengthwise.store.database import connect

TIDY = {
    "treatments": (
        "treatment_id,patient_id,clinician_id,tooth,period,isolation\n"
        "T1,P1,C1,16,2026-01,yes\nT2,P2,C2,36,2026-02,no\n"
    ),
    "canals": (
        "treatment_id,canal,confirmed_length_mm\n"
        "T1,MB,20.5\nT1,P,21\nT2,ML,19\nT2,D,20\n"
    ),
    "readings": (
        "treatment_id,canal,method,length_mm\n"
        "T1,MB,electronic,20.5\nT1,MB,film_file,21\nT1,P,electronic,21.5\n"
        "T2,ML,film_file,19.5\nT2,D,electronic,20\nT2,D,film_file,20.5\n"
    ),
    "fills": (
        "treatment_id,canal,fill_offset_mm\nT1,MB,-0.5\nT1,P,0.5\nT2,ML,-1\nT2,D,0\n"
    ),
}  # fmt: skip

# One row per tooth, semicolons, decimal commas, positive-short levels, quadrant and position.
WIDE_TOOTH = (
    "Root canal list;;;;;;;;;;;;;;;;;\n"
    "Case;Patient code;Op;Tooth;Month;Dam;MB EAL;MB film;P EAL;ML film;D EAL;D film;"
    "MB WL;P WL;ML WL;D WL;MB fill;P fill;ML fill;D fill;Memo\n"
    "T1;P1;C1;UR6;2026-01;y;20,5;21;21,5;;;;20,5;21;;;0,5;-0,5;;;call her back soon\n"
    "\n"
    "T2;P2;C2;LL6;2026-02;n;;;;19,5;20;20,5;;;19;20;;;1;0;\n"
    "Total;;;;;;;;;;;;;;;;;;;;\n"
)
WIDE_TOOTH_MAPPING = """
[[file]]
name = "teeth.csv"
separator = ";"
decimal = ","
skip_lines = 1
skip_where = { "Case" = ["Total"] }
tooth_notation = "quadrant_position"
fill_sign = "positive_short"
ignore = { "Memo" = "free text for the front desk" }

[[file.table]]
export = "treatments"
columns = { "Case" = "treatment_id", "Patient code" = "patient_id", "Op" = "clinician_id", "Tooth" = "tooth", "Month" = "period", "Dam" = "isolation" }
recode = { isolation = { y = "yes", n = "no" } }

[[file.table]]
export = "canals"
columns = { "Case" = "treatment_id" }
rows_from = [
  { columns = { "MB WL" = "confirmed_length_mm" }, constants = { canal = "MB" } },
  { columns = { "P WL" = "confirmed_length_mm" }, constants = { canal = "P" } },
  { columns = { "ML WL" = "confirmed_length_mm" }, constants = { canal = "ML" } },
  { columns = { "D WL" = "confirmed_length_mm" }, constants = { canal = "D" } },
]

[[file.table]]
export = "readings"
columns = { "Case" = "treatment_id" }
rows_from = [
  { columns = { "MB EAL" = "length_mm" }, constants = { canal = "MB", method = "electronic" } },
  { columns = { "MB film" = "length_mm" }, constants = { canal = "MB", method = "film_file" } },
  { columns = { "P EAL" = "length_mm" }, constants = { canal = "P", method = "electronic" } },
  { columns = { "ML film" = "length_mm" }, constants = { canal = "ML", method = "film_file" } },
  { columns = { "D EAL" = "length_mm" }, constants = { canal = "D", method = "electronic" } },
  { columns = { "D film" = "length_mm" }, constants = { canal = "D", method = "film_file" } },
]

[[file.table]]
export = "fills"
columns = { "Case" = "treatment_id" }
rows_from = [
  { columns = { "MB fill" = "fill_offset_mm" }, constants = { canal = "MB" } },
  { columns = { "P fill" = "fill_offset_mm" }, constants = { canal = "P" } },
  { columns = { "ML fill" = "fill_offset_mm" }, constants = { canal = "ML" } },
  { columns = { "D fill" = "fill_offset_mm" }, constants = { canal = "D" } },
]
"""

# One row per canal, 1-32 numbering, month first, the filling level from the confirmed length.
WIDE_CANAL = (
    "case,pt,provider,tooth #,date,rubber dam,canal,eal,pa,wl,fill vs wl\n"
    "T1,P1,C1,3,01/09/2026,1,mb,20.5,21,20.5,0\n"
    "T1,P1,C1,3,01/09/2026,1,pal,21.5,,21,1\n"
    "T2,P2,C2,19,02/10/2026,0,ml,,19.5,19,-0.5\n"
    "T2,P2,C2,19,02/10/2026,0,d,20,20.5,20,0.5\n"
)
WIDE_CANAL_MAPPING = """
[[file]]
name = "canals list.csv"
date_order = "mdy"
tooth_notation = "universal"
fill_reference = "confirmed_length"
confirmed_length_ends_mm = -0.5

[[file.table]]
export = "treatments"
distinct = true
columns = { case = "treatment_id", pt = "patient_id", provider = "clinician_id", "tooth #" = "tooth", date = "treatment_date", "rubber dam" = "isolation" }
recode = { isolation = { 1 = "yes", 0 = "no" } }

[[file.table]]
export = "canals"
columns = { case = "treatment_id", canal = "canal", wl = "confirmed_length_mm" }
recode = { canal = { mb = "MB", pal = "P", ml = "ML", d = "D" } }

[[file.table]]
export = "readings"
columns = { case = "treatment_id", canal = "canal" }
recode = { canal = { mb = "MB", pal = "P", ml = "ML", d = "D" } }
rows_from = [
  { columns = { eal = "length_mm" }, constants = { method = "electronic" } },
  { columns = { pa = "length_mm" }, constants = { method = "film_file" } },
]

[[file.table]]
export = "fills"
columns = { case = "treatment_id", canal = "canal", "fill vs wl" = "fill_offset_mm" }
recode = { canal = { mb = "MB", pal = "P", ml = "ML", d = "D" } }
"""

# Long, in another language: one row per reading, lengths in cm.
LONG = (
    "Fall;Pat;Beh;Zahn;Monat;Kofferdam;Kanal;Messart;Länge;AL;WF\n"
    "T1;P1;C1;16;2026-01;ja;MB;elektrisch;2,05;2,05;-0,05\n"
    "T1;P1;C1;16;2026-01;ja;MB;Röntgen;2,1;2,05;-0,05\n"
    "T1;P1;C1;16;2026-01;ja;P;elektrisch;2,15;2,1;0,05\n"
    "T2;P2;C2;36;2026-02;nein;ML;Röntgen;1,95;1,9;-0,1\n"
    "T2;P2;C2;36;2026-02;nein;D;elektrisch;2;2;0\n"
    "T2;P2;C2;36;2026-02;nein;D;Röntgen;2,05;2;0\n"
)
LONG_MAPPING = """
[[file]]
name = "Messungen.csv"
separator = ";"
decimal = ","
encoding = "windows-1252"
tooth_notation = "iso3950"
unit = "cm"

[[file.table]]
export = "treatments"
distinct = true
columns = { Fall = "treatment_id", Pat = "patient_id", Beh = "clinician_id", Zahn = "tooth", Monat = "period", Kofferdam = "isolation" }
recode = { isolation = { ja = "yes", nein = "no" } }

[[file.table]]
export = "canals"
distinct = true
columns = { Fall = "treatment_id", Kanal = "canal", AL = "confirmed_length_mm" }

[[file.table]]
export = "readings"
columns = { Fall = "treatment_id", Kanal = "canal", Messart = "method", "Länge" = "length_mm" }
recode = { method = { elektrisch = "electronic", "Röntgen" = "film_file" } }

[[file.table]]
export = "fills"
distinct = true
columns = { Fall = "treatment_id", Kanal = "canal", WF = "fill_offset_mm" }
"""

SHAPES = {
    "wide per tooth": ("teeth.csv", WIDE_TOOTH.encode(), WIDE_TOOTH_MAPPING),
    "wide per canal": ("canals list.csv", WIDE_CANAL.encode(), WIDE_CANAL_MAPPING),
    "long, other language": ("Messungen.csv", LONG.encode("cp1252"), LONG_MAPPING),
}


def own_sheet(path, name, content, mapping):
    folder = folder_with(path)
    (folder.exports / name).write_bytes(content)
    folder.mapping.write_text(mapping, encoding="utf-8")
    return folder


def records(folder):
    connection = connect(folder.database, read_only=True)
    try:
        return {
            name: connection.execute(
                f"select * exclude (load_id, file_number, row_number) from record.{name} order by all"
            ).fetchall()
            for name in TIDY
        }
    finally:
        connection.close()


@pytest.mark.parametrize("shape", SHAPES)
def test_own_sheets_load_to_the_tidy_tables(tmp_path, shape):
    tidy = folder_with(tmp_path / "tidy", **TIDY)
    ingest_files(tidy, [], {})
    own = own_sheet(tmp_path / "own", *SHAPES[shape])
    assert ingest_files(own, [], {}).findings.empty
    assert records(own) == records(tidy)
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
    assert records(folder) == records(tidy)


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
    assert places == {("treatment.too_many_fields", 7)}
    assert result.rows_quarantined == 1


@pytest.mark.parametrize(
    ("old", "new", "error", "message"),
    [
        ('tooth_notation = "universal"', "", SettingsError, "declare tooth_notation"),
        ('"universal"', '"german"', SettingsError, "tooth_notation must be one of"),
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
            "no field of that export",
        ),
        ("distinct = true", "unique = true", SettingsError, "unknown entry unique"),
        ('export = "fills"', 'export = "filling"', SettingsError, "export of a table"),
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
