"""Sixteen ways in which practices write the same columns, and the words in them, with the truth."""

from dataclasses import dataclass

VALUES = {
    "treatment_id": ["T1", "T2"], "patient_id": ["P1", "P2"], "clinician_id": ["C1", "C2"],
    "tooth": ["16", "36"], "period": ["2026-01", "2026-02"], "treatment_date": ["2026-01-05", ""],
    "isolation": ["yes", "no"], "canal": ["MB", "D"], "confirmed_length_mm": ["20.5", "21"],
    "length_mm": ["20.5", "22"], "method": ["film", "cbct"], "fill_offset_mm": ["-0.5", "1"],
    "apical_size_iso": ["25", "30"], "patency": ["yes", "no"], "pai": ["2", "1"],
    "days_from_treatment": ["370", "400"], "taper_pct": ["4", "6"], "": ["x9", "y7"],
    "fill_level": ["short", "over", "within"], "pain": ["nee", "ja"], "tenderness": ["no", "si"],
}  # fmt: skip
# Words that practices write in a column, and the value of the dictionary that each stands for.
WORDS: dict[tuple[str, str], dict[str, str]] = {
    ("treatments", "isolation"): {
        "Y": "yes", "N": "no", "ja": "yes", "nein": "no", "oui": "yes", "non": "no", "sí": "yes",
        "nee": "no", "J": "yes", "1": "yes", "0": "no", "x": "yes", "partly": "no",
    },
    ("treatments", "treatment_type"): {"Primary": "primary", "RETREATMENT": "retreatment",
                                       "primary treatment": "primary", "retreat": "retreatment"},
    ("readings", "method"): {
        "EAL": "electronic", "apex locator": "electronic", "elektrisch": "electronic",
        "Endometrie": "electronic", "CBCT": "cbct", "DVT": "cbct", "paper point": "paper_point",
        "master cone": "trial_cone", "Röntgen": "film_file", "taktil": "tactile", "PA": "film_file",
        "working film": "film_file",
    },
    ("readings", "stage"): {"Initial": "initial", "After flaring": "after_flaring",
                            "before filling": "before_filling"},
    ("canals", "canal"): {"mb": "MB", "pal": "P", "d": "D", "ml": "ML", "mesiobuccal": "MB",
                          "mb2": "MB2", "dist": "D"},
    ("fills", "fill_level"): {
        "Short": "short", "kurz": "short", "court": "short", "ok": "within", "adequate": "within",
        "bündig": "flush", "over": "beyond", "Überstopft": "beyond", "long": "beyond",
        "see film": "within",
    },
    ("follow_ups", "imaging"): {"Film": "film", "CBCT": "cbct", "None": "none"},
}  # fmt: skip
Truth = tuple[str, dict[str, str]]


@dataclass(frozen=True, slots=True)
class Style:
    """One sheet: its name and for each header what the column is ('' where nothing of ours)."""

    name: str
    columns: dict[str, Truth]


def _eal(canal: str = "") -> Truth:
    return "length_mm", {"method": "electronic"} | ({"canal": canal} if canal else {})


def _is(name: str, **constants: str) -> Truth:
    return name, constants


STYLES = (
    Style("field names", {name: _is(name) for name in ("treatment_id", "patient_id", "clinician_id", "tooth", "period", "canal", "confirmed_length_mm")}),
    Style("plain English", {"Case ID": _is("treatment_id"), "Patient code": _is("patient_id"), "Operator": _is("clinician_id"), "Tooth number": _is("tooth"), "Rubber dam": _is("isolation"), "Canal": _is("canal"), "Working length": _is("confirmed_length_mm"), "Fill level": _is("fill_offset_mm")}),
    Style("short English", {"Case": _is("treatment_id"), "Pt": _is("patient_id"), "Op": _is("clinician_id"), "Tooth": _is("tooth"), "Month": _is("period"), "Can": _is("canal"), "EAL": _eal(), "WL": _is("confirmed_length_mm"), "MAF": _is("apical_size_iso")}),
    Style("camel case", {"treatmentId": _is("treatment_id"), "patientId": _is("patient_id"), "toothNumber": _is("tooth"), "rubberDam": _is("isolation"), "workingLength": _is("confirmed_length_mm"), "fillLevel": _is("fill_offset_mm")}),
    Style("capitals and underscores", {"CASE_NO": _is("treatment_id"), "PT_ID": _is("patient_id"), "PROVIDER": _is("clinician_id"), "TOOTH_NO": _is("tooth"), "APICAL_SIZE": _is("apical_size_iso"), "FINAL_TAPER": _is("taper_pct")}),
    Style("wide per canal and method", {"Case": _is("treatment_id"), "Tooth": _is("tooth"), "MB EAL": _eal("MB"), "DB EAL": _eal("DB"), "P EAL": _eal("P"), "MB CBCT": _is("length_mm", canal="MB", method="cbct"), "MB WL": _is("confirmed_length_mm", canal="MB"), "P WL": _is("confirmed_length_mm", canal="P")}),
    Style("wide, words apart", {"Treatment": _is("treatment_id"), "Tooth no.": _is("tooth"), "Apex locator MB (mm)": _eal("MB"), "Apex locator palatal (mm)": _eal("P"), "Fill level MB": _is("fill_offset_mm", canal="MB"), "Fill level palatal": _is("fill_offset_mm", canal="P")}),
    Style("German", {"Fall": _is("treatment_id"), "Pat": _is("patient_id"), "Behandler": _is("clinician_id"), "Zahn": _is("tooth"), "Monat": _is("period"), "Kofferdam": _is("isolation"), "Kanal": _is("canal"), "Messart": _is("method"), "Länge": _is("length_mm"), "Arbeitslänge": _is("confirmed_length_mm")}),
    Style("French", {"Cas": _is("treatment_id"), "Praticien": _is("clinician_id"), "Dent": _is("tooth"), "Mois": _is("period"), "Digue": _is("isolation"), "Longueur de travail": _is("confirmed_length_mm")}),
    Style("Spanish", {"Caso": _is("treatment_id"), "Paciente": _is("patient_id"), "Operador": _is("clinician_id"), "Diente": _is("tooth"), "Conducto": _is("canal"), "Longitud de trabajo": _is("confirmed_length_mm"), "Fecha": _is("treatment_date")}),
    Style("typing slips", {"Case Nr.": _is("treatment_id"), "Opertor": _is("clinician_id"), "Tooth numbr": _is("tooth"), "Rubberdamm": _is("isolation"), "Working lenght": _is("confirmed_length_mm"), "Filling levle": _is("fill_offset_mm")}),
    Style("review sheet", {"Case": _is("treatment_id"), "Days after treatment": _is("days_from_treatment"), "PAI score": _is("pai"), "Shelf": _is("")}),
    Style("with strangers", {"Case": _is("treatment_id"), "Tooth": _is("tooth"), "Price": _is(""), "Chair": _is(""), "Invoice": _is(""), "Shade": _is(""), "Room": _is(""), "Insurer": _is("")}),
    Style("ambiguous", {"Treatment": _is("treatment_id"), "Tooth": _is("tooth"), "Date": _is("treatment_date"), "Film": _is("length_mm", method="film_file"), "WF": _is("fill_offset_mm"), "Length": _is("confirmed_length_mm"), "Patent": _is("patency")}),
    Style("Dutch", {"Behandelaar": _is("clinician_id"), "Tand": _is("tooth"), "Kanaal": _is("canal"), "Werklengte": _is("confirmed_length_mm"), "Rubberdam": _is("isolation"), "Prijs": _is("")}),
    Style("levels in words", {"Case": _is("treatment_id"), "Canal": _is("canal"), "Fill level": _is("fill_level"), "Fill quality": _is("fill_level"), "Obturation": _is("fill_level"), "Pain": _is("pain"), "TTP": _is("tenderness")}),
)  # fmt: skip
