"""Three invented practices' own sheets, their mappings, and the same records in tidy form."""

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
